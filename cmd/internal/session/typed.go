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
	Text  string
	Place logbook.Place
}

// Typist turns lines as typed into readings:
//
//	# left as_found    the cylinder and phase of the readings after it; with one cylinder its name may be left out
//	# anything else    a comment
//	2.03/1.98          a reading, or anything meant as one; "-" for none
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

// Line takes one line. ok tells that it is a reading. It is an error when a line names a phase and a cylinder that does
// not exist, or a cylinder and no phase, or is too long to be meant.
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
	return Typed{Text: strings.ToValidUTF8(line, "\ufffd"), Place: t.Place}, true, nil
}

// header sets the place when the words after # end in a phase, written as_found, as-found or as found, in any case. Words that
// are a cylinder's name without a phase, or a phase without a cylinder that exists, are an error: readings filed under the wrong
// place would give wrong figures. All else is a comment.
func (t *Typist) header(comment string) error {
	words := strings.Fields(strings.NewReplacer("_", " ", "-", " ").Replace(comment))
	if len(words) == 0 {
		return nil
	}
	var phase logbook.Phase
	name := words
	if n := len(words); n >= 2 && strings.EqualFold(words[n-2], "as") {
		switch strings.ToLower(words[n-1]) {
		case "found":
			phase = logbook.AsFound
		case "left":
			phase = logbook.AsLeft
		}
		name = words[:n-2]
	}
	at := t.cylinder(name)
	switch {
	case phase == "" && at < 0:
		return nil
	case phase == "":
		return fmt.Errorf("phase, got %q, want as_found or as_left after the cylinder", strings.TrimSpace(comment))
	case at < 0 && len(name) == 0 && len(t.cylinders) == 1:
		at = 0
	case at < 0:
		return fmt.Errorf("cylinder, got %q, want one of %q before %s", strings.Join(name, " "), t.cylinders, phase)
	}
	t.Place, t.Named = logbook.Place{Cylinder: t.cylinders[at], Phase: phase}, true
	return nil
}

// cylinder returns the index of the cylinder with the name of these words, in any case; -1 when there is none.
func (t *Typist) cylinder(name []string) int {
	return slices.IndexFunc(t.cylinders, func(c string) bool {
		words := strings.Fields(strings.NewReplacer("_", " ", "-", " ").Replace(c))
		return len(words) > 0 && strings.EqualFold(strings.Join(words, " "), strings.Join(name, " "))
	})
}

// errNotText is the error of a sound file, or of text that takes two bytes a letter.
var errNotText = errors.New("is not plain text, want one reading a line, saved as UTF-8 text")

// maxTyped is the largest number of readings taken from a file.
const maxTyped = 100_000

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
