// Package session is one job of measuring: it pairs the openings that were heard with the dial readings that were typed,
// keeps both in the journal, and works the results out from the journal alone, so that a session shown later gives the same
// figures as on the day.
//
// A pass is one approach to the mark with its reading. Unless the take says otherwise each opening is an approach of its
// own; slowly parting points give several openings in one, see Approaches. The journal keeps every opening and closing that
// was heard. Approach and reading are kept when the other is missing, and so is a reading that cannot be used, as it was
// typed and with the reason. No result rests on any of these.
//
// Openings are logbook.Edge: plain values, wherever they came from; Changes makes them of a detector's events. The package
// knows neither sound nor terminals.
package session
