package session

import (
	"encoding/csv"
	"io"
	"math"
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

// WriteCSV writes reports as a table, one line for each pass, by RFC 4180: lines end in CR LF, cells are quoted where they must
// be, the first line names the columns, the encoding is UTF-8. With comma set numbers have a decimal comma, and a semicolon
// parts the cells, as spreadsheets of such countries expect it (common practice); else a point and a comma.
//
// A spreadsheet takes text that begins with =, +, -, @ (of any width), a tab or a CR for a formula. Such a cell gets an apostrophe in front,
// which is the common practice (OWASP, "CSV Injection", from memory); control characters become U+FFFD first. Numbers stay
// numbers: in them a minus sign is one.
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

// text is a cell that no spreadsheet takes for a formula.
func (cells) text(s string) string {
	s = Printable(strings.ToValidUTF8(s, "\ufffd"))
	if first, _ := utf8.DecodeRuneInString(s); s != "" && strings.ContainsRune("=+-@＝＋－＠", first) {
		return "'" + s
	}
	return s
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
	plain := strings.Replace(strings.TrimSpace(s), ",", ".", 1)
	if _, err := strconv.ParseFloat(plain, 64); err == nil && strings.Trim(plain, "-0123456789.") == "" {
		return c.decimal(plain)
	}
	return c.text(s)
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
