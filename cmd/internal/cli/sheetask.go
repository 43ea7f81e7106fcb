package cli

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/sheet"
)

// sheetQuestion is one thing that a new sheet is asked for.
type sheetQuestion struct {
	id      string // of the answer: the key in the sheet, or what is needed to ask for one
	ask     string
	where   string // where the answer is found, or how it is measured; one line
	comment string // behind the answer in the sheet; may be empty
	form    answerForm
	choices []choice // with a form that is chosen
	unit    string   // put behind a number typed without one, with asMeasure
	of      int      // with asListed: how many there are, when the list is no use before it is whole
	usual   string   // taken with Enter; empty when there is none
	skip    bool     // may be left out
}

// answerForm says what kind of answer a question takes, and how it stands in the sheet.
type answerForm int

// The forms.
const (
	asWords   answerForm = iota // any text
	asListed                    // the same, one of the list that is the key before the dot
	asMeasure                   // a number with a unit, as text
	asWhole                     // a whole number
	asChosen                    // one of the choices, as text
	asChosenN                   // one of the choices, as a number
	asHelper                    // one of the choices; only questions need it
	asCount                     // a number of cylinders; only questions need it
)

// choice is an answer that has a number.
type choice struct{ value, means string }

// interview asks for a sheet.
type interview struct {
	kind    sheet.Kind
	file    string
	answers map[string]string // by id; empty when left out
	env     Env
}

// questions returns all that are to be asked, as far as the answers so far tell.
func (in *interview) questions() []sheetQuestion {
	if in.kind == sheet.DialSheet {
		return dialQuestions(in.answers)
	}
	qs := engineQuestions(in.answers)
	base := filepath.Base(in.file)
	qs[0].usual = strings.TrimSuffix(base, filepath.Ext(base)) // so that no keyboard with letters is needed
	return qs
}

// ask asks every question and returns the text of the sheet. An interruption and the end of the answers are errors.
func (in *interview) ask(ctx context.Context) (string, error) {
	wrapped(in.env.Err, "", "A new %s sheet, %s. Enter takes what stands in [ ], < or / goes back, - leaves out what may be left out.",
		in.kind, session.Printable(in.file))
	lines := linesOf(in.env.In)
	at := 0
	for qs := in.questions(); at < len(qs); qs = in.questions() {
		q := qs[at]
		in.prompt(q, at+1)
		var line string
		var ok bool
		select {
		case <-ctx.Done():
			return "", ctx.Err()
		case line, ok = <-lines:
		}
		if !ok {
			if ctx.Err() != nil {
				return "", ctx.Err()
			}
			return "", fail(ExitFailed, "begin again, and answer every question", "the answers end before the sheet is whole")
		}
		line = strings.TrimSpace(line)
		if line == "<" || line == "/" {
			at = max(0, at-1)
			continue
		}
		if problem := in.take(qs[:at+1], line); problem != "" {
			wrapped(in.env.Err, "  ", "no: %s", problem)
			continue
		}
		at++
	}
	return in.text(in.questions()), nil
}

// prompt shows a question, its choices and what Enter takes.
func (in *interview) prompt(q sheetQuestion, n int) {
	w := in.env.Err
	fmt.Fprintln(w)
	wrapped(w, "", "%d. %s", n, q.ask)
	wrapped(w, "   ", "%s", q.where)
	for i, c := range q.choices {
		fmt.Fprintf(w, "     %d  %s\n", i+1, session.Printable(c.means))
	}
	usual := in.usual(q)
	switch at := slices.IndexFunc(q.choices, func(c choice) bool { return c.value == usual }); {
	case usual == "" && q.skip:
		fmt.Fprint(w, "   [leave out] ")
	case usual == "":
		fmt.Fprint(w, "   ")
	case at >= 0:
		fmt.Fprintf(w, "   [%d] ", at+1)
	default:
		fmt.Fprintf(w, "   [%s] ", session.Printable(usual))
	}
	fmt.Fprint(w, "> ")
}

// usual is what Enter takes: what was answered before somebody went back, else the default.
func (in *interview) usual(q sheetQuestion) string {
	if a, ok := in.answers[q.id]; ok {
		return a
	}
	return q.usual
}

// take takes a line as the answer to the last of the questions asked, or says what is wrong with it.
func (in *interview) take(asked []sheetQuestion, line string) (problem string) {
	q := asked[len(asked)-1]
	answer := line
	switch {
	case line == "" && in.usual(q) != "":
		answer = in.usual(q)
	case line == "" && !q.skip, line == "-" && !q.skip:
		return "this is needed"
	case line == "" || line == "-":
		answer = ""
	default:
		if answer, problem = q.read(line); problem != "" {
			return problem
		}
	}
	before, had := in.answers[q.id]
	in.answers[q.id] = answer
	if problem = in.wrong(asked); problem != "" {
		delete(in.answers, q.id)
		if had && line != "" { // what was answered before fits no more when Enter is refused
			in.answers[q.id] = before
		}
	}
	return problem
}

// read turns what was typed into what the sheet is to hold.
func (q sheetQuestion) read(line string) (answer, problem string) {
	switch q.form {
	case asChosen, asChosenN, asHelper:
		n, err := strconv.Atoi(line)
		if err != nil || n < 1 || n > len(q.choices) {
			return "", fmt.Sprintf("got %q, want a number from 1 to %d", line, len(q.choices))
		}
		return q.choices[n-1].value, ""
	case asWhole, asCount:
		n, err := strconv.Atoi(line)
		switch {
		case err != nil || n < 0:
			return "", fmt.Sprintf("got %q, want a whole number", line)
		case q.form == asCount && (n < 1 || n > sheet.MaxCylinders):
			return "", fmt.Sprintf("got %d, want 1..%d", n, sheet.MaxCylinders)
		}
		return strconv.Itoa(n), ""
	case asWords, asListed:
		if !utf8.ValidString(line) {
			return "", fmt.Sprintf("got %q, which is no UTF-8 text", line)
		}
	case asMeasure:
		quantity, err := timing.ParseQuantity(line)
		if err != nil {
			return "", strings.TrimPrefix(err.Error(), "timing: ")
		}
		if quantity.Unit == timing.NoUnit {
			line += " " + q.unit
		}
	}
	return line, ""
}

// wrong returns what the sheet as far as it goes is told off for, other than for what was not asked for yet.
func (in *interview) wrong(asked []sheetQuestion) string {
	text := []byte(in.text(asked))
	var err error
	if in.kind == sheet.EngineSheet {
		_, err = sheet.ParseEngine(in.file, text)
	} else {
		_, err = sheet.ParseDial(in.file, text)
	}
	return firstWrong(err, asked[len(asked)-1].id)
}

// firstWrong returns the message of the first error that is none of a missing key. It names the key when another one was asked for.
func firstWrong(err error, asked string) string {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range joined.Unwrap() {
			if text := firstWrong(e, asked); text != "" {
				return text
			}
		}
		return ""
	}
	var e *sheet.Error
	if !errors.As(err, &e) || e.Missing {
		return ""
	}
	if asked == e.Key || strings.HasPrefix(asked, e.Key+".") {
		return e.Message
	}
	return e.Key + ": " + e.Message
}
