// Package session is one job of measuring: it pairs the openings that were heard with the dial readings that were typed,
// keeps both in the journal, and works the results out from the journal alone, so that a session shown later gives the same
// figures as on the day.
//
// A pass is one opening with its reading. Both are kept when the other is missing, and so is a reading that cannot be used,
// as it was typed and with the reason. No result rests on any of these.
//
// Openings are logbook.Edge: plain values, wherever they came from. The package knows neither sound nor terminals.
package session
