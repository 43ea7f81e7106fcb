package session

import (
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// column is one column of the table of passes.
type column struct {
	name string
	of   func(row) string
}

// row is one pass with what it belongs to.
type row struct {
	report Report
	cyl    string
	phase  Phase
	pass   Pass
	cells  cells
}

// columns of the table: first whose pass it is, then what was measured, then what all passes of its phase came to.
var columnsOfPasses = []column{
	{"session", func(r row) string { return r.cells.text(r.report.Session) }},
	{"begun", func(r row) string { return r.cells.text(r.report.Begun) }},
	{"name", func(r row) string { return r.cells.text(r.report.Name) }},
	{"engine", func(r row) string { return r.cells.text(r.report.Engine) }},
	{"cylinder", func(r row) string { return r.cells.text(r.cyl) }},
	{"phase", func(r row) string { return r.cells.text(string(r.phase.Phase)) }},
	{"pass", func(r row) string { return strconv.Itoa(r.pass.N) }},
	{"entry", func(r row) string { return strconv.FormatInt(r.pass.Entry, 10) }},
	{"reading", func(r row) string { return r.cells.reading(r.pass.Reading) }},
	{"last_closed", func(r row) string { closed, _ := r.cells.parts(r.pass.Reading); return closed }},
	{"first_open", func(r row) string { _, open := r.cells.parts(r.pass.Reading); return open }},
	{"travel_mm", func(r row) string { return r.cells.number(r.pass.TravelMM) }},
	{"used", func(r row) string { return yesNo(r.pass.Unused == "") }},
	{"not_used_because", func(r row) string { return r.cells.text(r.pass.Unused) }},
	{"take", edge(func(c cells, e Edge) string { return strconv.Itoa(e.Take) })},
	{"opening", edge(func(c cells, e Edge) string { return strconv.FormatInt(e.ID, 10) })},
	{"open_at_s", edge(func(c cells, e Edge) string { return c.number(&e.TimeS) })},
	{"open_at_uncertainty_s", edge(func(c cells, e Edge) string { return c.number(&e.Uncertainty) })},
	{"reclosures", edge(func(c cells, e Edge) string { return strconv.Itoa(e.Reclosures) })},
	{"settle_s", edge(func(c cells, e Edge) string { return c.number(&e.SettleS) })},
	{"specified_mm", func(r row) string { return r.cells.number(&r.report.Specified.TravelMM) }},
	{"tolerance_low_mm", func(r row) string { return r.cells.number(&r.report.Specified.ToleranceMM[0]) }},
	{"tolerance_high_mm", func(r row) string { return r.cells.number(&r.report.Specified.ToleranceMM[1]) }},
	{"passes_used", func(r row) string { return strconv.Itoa(r.phase.N) }},
	{"error_mm", func(r row) string { return r.cells.number(r.phase.ErrorMM) }},
	{"error_deg", func(r row) string { return r.cells.number(r.phase.ErrorDeg) }},
	{"uncertainty_mm", func(r row) string { return r.cells.number(r.phase.UncertaintyMM) }},
	{"interval_low_mm", func(r row) string { return r.cells.end(r.phase.IntervalMM, 0) }},
	{"interval_high_mm", func(r row) string { return r.cells.end(r.phase.IntervalMM, 1) }},
	{"interval_low_deg", func(r row) string { return r.cells.end(r.phase.IntervalDeg, 0) }},
	{"interval_high_deg", func(r row) string { return r.cells.end(r.phase.IntervalDeg, 1) }},
	{"coverage", func(r row) string { return r.cells.number(r.phase.Coverage) }},
	{"scatter_mm", func(r row) string { return r.cells.number(r.phase.ScatterMM) }},
	{"verdict", func(r row) string { return r.cells.text(r.phase.Verdict) }},
	{"early_or_late", func(r row) string {
		if r.phase.EarlyOrLate == nil {
			return ""
		}
		return r.cells.text(*r.phase.EarlyOrLate)
	}},
	{"probability_in_tolerance", func(r row) string { return r.cells.number(r.phase.InTolerance) }},
	{"gap_specified_mm", gap(func(g Gap, _ *GapReading) float64 { return g.SpecifiedMM })},
	{"gap_mm", gap(func(_ Gap, read *GapReading) float64 { return read.MM })},
}

// edge makes a column of what the pass's opening says; empty where it has none.
func edge(of func(cells, Edge) string) func(row) string {
	return func(r row) string {
		if r.pass.Edge == nil {
			return ""
		}
		return of(r.cells, *r.pass.Edge)
	}
}

// gap makes a column of the gap that the set of points of the pass had in its phase; empty where it was not typed.
func gap(of func(Gap, *GapReading) float64) func(row) string {
	return func(r row) string {
		for _, g := range r.report.Gaps {
			if read := g.In(r.phase.Phase); read != nil && slices.Contains(g.Cylinders, r.cyl) {
				mm := of(g, read)
				return r.cells.number(&mm)
			}
		}
		return ""
	}
}

// WriteCSV writes reports as a table, one line for each pass, by RFC 4180: lines end in CR LF, cells are quoted where they must
// be, the first line names the columns, the encoding is UTF-8. With comma set numbers have a decimal comma, and a semicolon
// parts the cells, as spreadsheets of such countries expect it (common practice); else a point and a comma.
//
// A spreadsheet takes text that begins with =, +, -, @ (of any width), a tab or a CR for a formula, and text such as 2/1 for a date.
// Such a cell gets an apostrophe in front, which is the common practice (OWASP, "CSV Injection", from memory), and so does one that
// begins with an apostrophe itself: who takes one off has the text. Control characters become U+FFFD first. Numbers stay numbers:
// in them a minus sign is one. The readings stand as numbers in columns of their own beside the column with what was typed.
func WriteCSV(w io.Writer, reports []Report, comma bool) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if comma {
		out.Comma = ';'
	}
	line := make([]string, len(columnsOfPasses))
	for i, c := range columnsOfPasses {
		line[i] = c.name
	}
	if err := out.Write(line); err != nil {
		return err
	}
	for _, report := range reports {
		for _, c := range report.Cylinders {
			for _, phase := range c.Phases {
				for _, pass := range phase.Passes {
					r := row{report, c.Name, phase, pass, cells{comma}}
					for i, c := range columnsOfPasses {
						line[i] = c.of(r)
					}
					if err := out.Write(line); err != nil {
						return err
					}
				}
			}
		}
	}
	out.Flush()
	return out.Error()
}

// cells writes values as the cells of a table.
type cells struct{ comma bool }

// text is a cell that no spreadsheet takes for a formula, a date or a number; a whole number is the same as text.
func (c cells) text(s string) string {
	s = Printable(strings.ToValidUTF8(s, "\ufffd"))
	if whole, _ := strconv.ParseInt(s, 10, 64); strconv.FormatInt(whole, 10) == s && whole >= 0 && len(s) <= 15 {
		return s
	}
	return protected(s)
}

// protected puts an apostrophe before text that would not stay text.
func protected(s string) string {
	if first, _ := utf8.DecodeRuneInString(s); s != "" && strings.ContainsRune("'=+-@＝＋－＠", first) || passesForValue(s) {
		return "'" + s
	}
	return s
}

// passesForValue tells that a spreadsheet may take text for a date, a time, a fraction or a number. These have digits and signs
// alone, and the name of a month or half a day at most (in English; common practice of spreadsheets, from memory). A date has three
// numbers at most: 2.28/2.25 is none.
func passesForValue(s string) bool {
	s = strings.ToLower(strings.TrimSpace(s))
	if s == "true" || s == "false" {
		return true
	}
	for _, word := range []string{"january", "february", "march", "april", "june", "july", "august", "september", "october", "november", "december",
		"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sept", "sep", "oct", "nov", "dec", "am", "pm", "e+", "e"} {
		s = strings.Replace(s, word, " ", 1)
	}
	if strings.Trim(s, "0123456789 .,/:-%$€£") != "" {
		return false
	}
	numbers := strings.FieldsFunc(s, func(r rune) bool { return r < '0' || r > '9' })
	return len(numbers) > 0 && (len(numbers) <= 3 || strings.Contains(s, ":"))
}

// number is a cell of a number to nine decimals, a nanometre or a nanosecond being the last that says anything; empty
// where there is none.
func (c cells) number(x *float64) string {
	if x == nil || math.IsInf(*x, 0) || math.IsNaN(*x) {
		return ""
	}
	const places = 1e9
	rounded := math.Round(*x*places)/places + 0
	if math.IsInf(rounded, 0) { // so large that a damaged journal alone can hold it, and that it has no decimals
		rounded = *x
	}
	return c.decimal(strconv.FormatFloat(rounded, 'f', -1, 64))
}

func (c cells) end(interval *[2]float64, i int) string {
	if interval == nil {
		return ""
	}
	return c.number(&interval[i])
}

// reading is a reading as typed, which has one decimal sign or the other. A plain number is written as numbers are, because
// a spreadsheet might make a date of one with the other sign.
func (c cells) reading(s string) string {
	if number, ok := c.plain(s); ok {
		return number
	}
	return protected(Printable(strings.ToValidUTF8(s, "\ufffd")))
}

// plain is text that is a plain number, as numbers are written; ok is false for any other.
func (c cells) plain(s string) (number string, ok bool) {
	s = strings.Replace(strings.TrimSpace(s), ",", ".", 1)
	if _, err := strconv.ParseFloat(s, 64); err != nil || strings.Trim(s, "-0123456789.") != "" {
		return "", false
	}
	return c.decimal(s), true
}

// parts are the numbers of a reading as the dial showed them: the last with the points closed and the first with them open, or the one
// after stopping as that. They are empty unless they are plain numbers.
func (c cells) parts(s string) (closed, open string) {
	first, second, both := strings.Cut(s, "/")
	if !both {
		open, _ = c.plain(s)
		return "", open
	}
	closed, ok := c.plain(first)
	if open, fine := c.plain(second); ok && fine {
		return closed, open
	}
	return "", ""
}

func (c cells) decimal(s string) string {
	if c.comma {
		return strings.Replace(s, ".", ",", 1)
	}
	return s
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}
