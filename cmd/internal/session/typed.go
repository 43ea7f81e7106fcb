package session

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"breakcue/timing/logbook"
)

// Typed is one reading as it was typed, and where it belongs.
type Typed struct {
	Text  string // without the number
	Place logbook.Place
	// Number is that of the opening it is the reading of, as the person who types sees the openings numbered; 0: none was given,
	// or one that no opening has.
	Number int

	named bool // a number was given
}

// Typist turns lines as typed into readings:
//
//	# left as_found    the cylinder and phase of the readings after it; with one cylinder its name may be left out
//	# Left, As found   the same
//	# anything else    a comment
//	2.03/1.98          a reading, or anything meant as one; "-" for none
//	2.03/              the first half of one
//	3*2.03/1.98        the reading of opening 3, whatever the order
//
// Blank lines are passed over.
type Typist struct {
	// Place is where the next reading belongs: at first the first cylinder, as found.
	Place logbook.Place
	// Named tells that a line has set Place; until then it is assumed.
	Named bool

	cylinders []string
}

// NewTypist returns a Typist for an engine's cylinders, one or more.
func NewTypist(cylinders []string) *Typist {
	return &Typist{cylinders: cylinders, Place: logbook.Place{Cylinder: cylinders[0], Phase: logbook.AsFound}}
}

// maxLine is the longest line taken [bytes].
const maxLine = 1000

// Line takes one line. ok tells that it is a reading. It is an error when a line seems to name a cylinder or a phase
// and cannot be read, or is too long to be meant.
func (t *Typist) Line(line string) (r Typed, ok bool, err error) {
	line = strings.TrimRight(line, "\r\n")
	text := strings.TrimSpace(line)
	if len(line) > maxLine {
		return Typed{}, false, fmt.Errorf("got a line of %d bytes, want at most %d", len(line), maxLine)
	}
	if comment, is := strings.CutPrefix(text, "#"); is {
		return Typed{}, false, t.header(comment)
	}
	if text == "" {
		return Typed{}, false, nil
	}
	return numberedTyped(Typed{Text: strings.ToValidUTF8(line, "\ufffd"), Place: t.Place}), true, nil
}

// header sets the place when the words after # are a cylinder and a phase. Readings filed under the wrong place would give
// wrong figures, so a line that begins with a cylinder, or ends as a phase does, is an error when it cannot be read. All
// else is a comment.
func (t *Typist) header(comment string) error {
	name, phase, meant := cutPhase(wordsOf(comment))
	named, whole := t.cylinder(name)
	if named < 0 && !meant {
		return nil
	}
	refuse := func(what, got string) error {
		return fmt.Errorf("%s, got %q, want one of %q and as_found or as_left, as \"# %s %s\"; begin a comment with another word",
			what, got, t.cylinders, t.cylinders[0], logbook.AsFound)
	}
	switch {
	case phase == "":
		return refuse("phase", strings.TrimSpace(comment))
	case len(name) == 0 && len(t.cylinders) == 1:
		named = 0
	case !whole:
		return refuse("cylinder", strings.Join(name, " "))
	}
	t.Place, t.Named = logbook.Place{Cylinder: t.cylinders[named], Phase: phase}, true
	return nil
}

// wordsOf parts a line into words; a name may be joined and ended in several ways.
func wordsOf(line string) []string {
	return strings.Fields(strings.NewReplacer("_", " ", "-", " ", ",", " ", ":", " ").Replace(line))
}

// cutPhase takes the phase off the end of words: as_found, as-found, as found or asfound, in any case. meant tells that
// one seems meant, though it may not be readable: then it is empty.
func cutPhase(words []string) (before []string, phase logbook.Phase, meant bool) {
	n := len(words)
	if n == 0 {
		return nil, "", false
	}
	begin, last := n-1, strings.ToLower(words[n-1])
	if n > 1 && strings.EqualFold(words[n-2], "as") {
		begin, last = n-2, "as"+last
	}
	switch {
	case last == "asfound":
		return words[:begin], logbook.AsFound, true
	case last == "asleft":
		return words[:begin], logbook.AsLeft, true
	case begin == n-2, last == "as", strings.HasPrefix(last, "asf"), strings.HasPrefix(last, "asl"):
		return words[:begin], "", n <= 3 // a few words may be a place misspelt, more are a comment such as "…, same as before"
	}
	return words, "", false
}

// cylinder returns the index of the cylinder that words begin with, in any case, -1 when there is none; whole tells that
// nothing follows. A name written just as in the sheet goes before others, and the longer one before the shorter.
func (t *Typist) cylinder(words []string) (at int, whole bool) {
	at = -1
	best := 0
	for i, c := range t.cylinders {
		name := wordsOf(c)
		n := len(name)
		if n == 0 || n > len(words) || !slices.EqualFunc(name, words[:n], strings.EqualFold) {
			continue
		}
		score := 2 * n
		if slices.Equal(name, words[:n]) {
			score++
		}
		if score > best {
			at, best, whole = i, score, n == len(words)
		}
	}
	return at, whole
}

// errNotText is the error of a sound file, or of text that takes two bytes a letter.
var errNotText = errors.New("is not plain text, want one reading a line, saved as UTF-8 text")

// maxTyped is the largest number of readings taken from a file.
const maxTyped = 100_000

// RawLines returns what was typed line by line, to be kept where ReadTyped refuses it: lines that cannot be taken are among
// the readings, cut to the longest line. There are none when it is not text.
func RawLines(text string, cylinders []string) []Typed {
	if strings.ContainsRune(text, 0) {
		return nil
	}
	t := NewTypist(cylinders)
	var out []Typed
	for line := range strings.FieldsFuncSeq(strings.TrimPrefix(text, "\ufeff"), func(r rune) bool { return r == '\n' || r == '\r' }) {
		one, ok, err := t.Line(line)
		if err != nil {
			one, ok = Typed{Text: strings.ToValidUTF8(line[:min(len(line), maxLine)], "\ufffd"), Place: t.Place}, true
		}
		if ok && len(out) < maxTyped {
			out = append(out, one)
		}
	}
	return out
}

// LineError is a line of a file of readings that cannot be taken.
type LineError struct {
	File string
	Line int // from 1
	Err  error
}

// Error implements error.
func (e *LineError) Error() string { return fmt.Sprintf("%s:%d: %v", e.File, e.Line, e.Err) }

// Unwrap gives the cause.
func (e *LineError) Unwrap() error { return e.Err }

// ReadTyped reads all readings from a file: one a line, with or without byte order mark, line ends of any system. The
// error is a *LineError when one line of it is wrong. file is its name for errors. named tells that the place of the first reading was given.
func ReadTyped(file string, r io.Reader, cylinders []string) (typed []Typed, named bool, err error) {
	t := NewTypist(cylinders)
	scan := bufio.NewScanner(r)
	scan.Buffer(nil, 64<<10)
	named = true
	for n := 1; scan.Scan(); n++ {
		line := scan.Bytes()
		if n == 1 {
			line = bytes.TrimPrefix(line, []byte("\ufeff"))
		}
		// A file of an old system may end its lines in CR alone; to the scanner it is one line.
		for part := range bytes.SplitSeq(bytes.TrimSuffix(line, []byte("\r")), []byte("\r")) {
			one, ok, err := t.Line(string(part))
			if bytes.IndexByte(part, 0) >= 0 {
				err = errNotText
			}
			if err != nil {
				return nil, false, &LineError{file, n, err}
			}
			if !ok {
				continue
			}
			if len(typed) == maxTyped {
				return nil, false, &LineError{file, n, fmt.Errorf("got more than %d readings", maxTyped)}
			}
			named = named && t.Named
			typed = append(typed, one)
		}
	}
	if err := scan.Err(); err != nil {
		if errors.Is(err, bufio.ErrTooLong) {
			err = errors.New("got a line of more than 65536 bytes, want one reading a line")
		}
		return nil, false, fmt.Errorf("%s: %w", file, err)
	}
	return typed, named, nil
}
