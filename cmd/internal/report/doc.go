// Package report makes the record of a session that is printed, signed and kept with the engine's papers: one page of HTML that
// needs nothing beside it, and from which every figure can be checked by hand.
//
// The figures come from package session, which works them out of the journal; here they are only told. The same journal gives the
// same bytes: no clock is read. Whatever was typed or named may hold anything; it never becomes markup, and no character of
// it can turn the order of the figures around.
package report
