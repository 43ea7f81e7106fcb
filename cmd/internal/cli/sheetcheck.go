package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/sheet"
)

// sheetsChecked is what sheet check prints with --json. Nothing in it is rounded but pointers of dials.
type sheetsChecked struct {
	Schema string         `json:"schema"`
	OK     bool           `json:"ok"`
	Sheets []checkedSheet `json:"sheets"`
	// Pairs are every engine with every dial of those that are right.
	Pairs []checkedPair `json:"pairs"`
}

// checkedSheet is one file.
type checkedSheet struct {
	File   string         `json:"file"`
	Kind   sheet.Kind     `json:"kind"` // empty when it cannot be told
	OK     bool           `json:"ok"`
	Errors []sheetFault   `json:"errors"`
	Engine *engineFigures `json:"engine"` // null unless it is the sheet of an engine, and right
	Dial   *dialFigures   `json:"dial"`   // null unless it is the sheet of a dial, and right
	err    error
}

// sheetFault is one thing wrong with a sheet.
type sheetFault struct {
	Line    int    `json:"line"` // from 1; 0 when it has no place
	Column  int    `json:"column"`
	Key     string `json:"key"`
	Message string `json:"message"`
}

// checkedPair is an engine with a dial.
type checkedPair struct {
	Engine string      `json:"engine"` // file
	Dial   string      `json:"dial"`
	Fits   bool        `json:"fits"`
	Error  string      `json:"error"` // why they do not fit
	Plan   *dialResult `json:"plan"`  // as dial --json has it; null when they do not fit
	err    error
}

func newSheetCheck(env Env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "check FILE...",
		Short: "Check sheets and explain them back in plain words, with the numbers worked out",
		Long: `Check engine sheets and dial sheets, and explain them back in plain words, with the numbers worked out. Of a sheet that is
wrong everything that is wrong is told, with line and column.

Engines and dials given together are also tried with each other: whether the dial can show the mark, and what it shows there.`,
		Example: "  breakcue sheet check twin.toml\n  breakcue sheet check twin.toml dial.toml --json",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fail(ExitUsage, "run '"+c.CommandPath()+" --help' for an example", "sheet check needs a sheet")
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return checkSheets(env, args, asJSON) },
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object, not rounded")
	return c
}

// checkSheets checks the files, prints what they say, and returns all that is wrong.
func checkSheets(env Env, files []string, asJSON bool) error {
	out := sheetsChecked{Schema: "breakcue.sheet-check/1", Pairs: []checkedPair{}}
	var wrong, unfit []error
	for _, file := range files {
		s := checkSheet(file)
		wrong = append(wrong, s.err)
		out.Sheets = append(out.Sheets, s)
	}
	for _, e := range out.Sheets {
		for _, d := range out.Sheets {
			if e.Engine != nil && d.Dial != nil {
				p := checkPair(e, d)
				unfit = append(unfit, p.err)
				out.Pairs = append(out.Pairs, p)
			}
		}
	}
	hint := "correct these places in a text editor, then run '" + again(files) + "' again"
	switch sheets := errors.Join(wrong...); {
	case sheets == nil:
		hint = unfitHint
	case errors.Is(sheets, fs.ErrNotExist):
		hint = "check the names of the files"
	}
	err := errors.Join(append(wrong, unfit...)...)
	out.OK = err == nil
	var page bytes.Buffer
	if !asJSON {
		out.print(&page)
	} else if err := printJSON(&page, out); err != nil {
		return err
	}
	if _, err := page.WriteTo(env.Out); err != nil {
		return err
	}
	if err == nil {
		return nil
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: hint, All: true}
}

// again is the command that checks files, as it is typed.
func again(files []string) string {
	out := "breakcue sheet check"
	for _, f := range files {
		out += " " + shellWord(f)
	}
	return out
}

func checkSheet(file string) checkedSheet {
	s := checkedSheet{File: file, Errors: []sheetFault{}}
	data, err := sheet.Read(file)
	if err == nil {
		s.Kind, err = sheet.KindOf(file, data)
	}
	switch {
	case err != nil:
	case s.Kind == sheet.EngineSheet:
		var e sheet.Engine
		if e, err = sheet.ParseEngine(file, data); err == nil {
			s.Engine, err = figuresOfEngine(e)
		}
	default:
		var d sheet.Dial
		if d, err = sheet.ParseDial(file, data); err == nil {
			s.Dial = figuresOfDial(d)
		}
	}
	s.err, s.OK = err, err == nil
	s.Errors = append(s.Errors, faultsOf(err)...)
	return s
}

// faultsOf takes an error of a sheet apart.
func faultsOf(err error) []sheetFault {
	if err == nil {
		return nil
	}
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		var out []sheetFault
		for _, e := range joined.Unwrap() {
			out = append(out, faultsOf(e)...)
		}
		return out
	}
	var e *sheet.Error
	if errors.As(err, &e) {
		return []sheetFault{{e.Line, e.Column, e.Key, e.Message}}
	}
	return []sheetFault{{Message: err.Error()}}
}

// checkPair tries an engine with a dial.
func checkPair(e, d checkedSheet) checkedPair {
	p := checkedPair{Engine: e.File, Dial: d.File}
	s := session.Sheets{Engine: e.Engine.sheet, Dial: d.Dial.sheet}
	setup, err := timing.NewSetup(s.Engine.Crank, s.Dial.Dial, s.Engine.Timing)
	if err == nil {
		s.Setup = setup
		var plan dialResult
		if plan, err = dialPlan(s); err == nil {
			p.Plan, p.Fits = &plan, true
			return p
		}
	}
	p.err = fmt.Errorf("%s with %s: %w", e.File, d.File, err)
	p.Error = err.Error()
	return p
}

// print writes the result for people; what is wrong comes on standard error.
func (r sheetsChecked) print(w io.Writer) {
	first := true
	title := func(format string, args ...any) {
		if !first {
			fmt.Fprintln(w)
		}
		first = false
		fmt.Fprintln(w, session.Printable(fmt.Sprintf(format, args...)))
	}
	for _, s := range r.Sheets {
		p := sheetPage{w}
		switch {
		case s.Engine != nil:
			title("%s: an engine sheet, nothing wrong with it", s.File)
			p.engine(*s.Engine)
		case s.Dial != nil:
			title("%s: a dial sheet, nothing wrong with it", s.File)
			p.dial(*s.Dial)
		}
	}
	for _, pair := range r.Pairs {
		if pair.Fits {
			title("%s with %s: they fit together", pair.Engine, pair.Dial)
			sheetPage{w}.pair(pair)
		}
	}
}
