// Package handturn simulates, without sound, how ignition timing is measured by hand: an engine that is turned slowly, the
// points that open, and a dial that is read. It knows the truth, so it serves to try the whole job out and to see how
// often a stated interval really holds the true value.
//
// One pass is: a run-up from well before the mark at an unsteady speed, with halts; nudges, each followed by a rest in
// which the dial is read; the opening, in one of the nudges, which goes on until the points stay open; a rest, in which
// the dial is read again; a little further, and back to before the start, where the points are closed. A Scenario makes all passes
// at once, a Turning one when it is asked.
//
// The crank drives the cam through play: after a change of direction the cam stands still until the play is taken up. The
// gap grows by Lift for each degree of cam past the opening. While it is below NoisyGap and the cam moves, the contacts
// touch at random, with a probability of 1-gap/NoisyGap; closing contacts, pressed together by their spring, do not.
//
// A Population draws whole jobs by the thousand, without time and contacts: only where the points part, what the dial then shows and what
// is typed. The study over it tells how often stated intervals hold the truth, and how wide they are beside the best possible.
//
// Angles are crank degrees before top dead centre (BTDC), of the cylinder in question; times are seconds from the start.
package handturn
