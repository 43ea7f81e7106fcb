// Package cue shows the state of the points, either over the whole screen of a terminal or as plain lines.
//
// A View is everything there is to show, as plain values. Screen draws it so that it can be read from across the shop:
// the state as a word, as a picture of the contacts and as the background, the number of the newest opening and the newest
// result; or a Page, which is read at arm's length. Lines tells the same as sentences, one for each thing that happens. A
// page for a browser may draw the same View.
package cue
