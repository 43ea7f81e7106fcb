package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"breakcue/timing"
)

// maxSize is the largest sheet taken [bytes].
const maxSize = 64 << 10

// document is a sheet being read: its values, where they stand, what was asked for and what was wrong.
type document struct {
	file   string
	values map[string]any // by full key, tables taken apart
	places map[string]place
	asked  map[string]bool
	errs   []error
}

type place struct{ line, column int }

// Read returns the bytes of the sheet at path, no more than one above the largest number that a sheet may have.
func Read(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("sheet: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxSize+1))
	if err != nil {
		return nil, fmt.Errorf("sheet: %w", err)
	}
	return data, nil
}

// parse reads TOML. What is wrong with its form is the one error that ends the reading.
func parse(file string, data []byte) (*document, error) {
	if len(data) > maxSize {
		return nil, &Error{File: file, Message: fmt.Sprintf("got more than %d bytes, want a sheet of a few lines", maxSize)}
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		e := &Error{File: file, Message: "no valid TOML: " + strings.TrimPrefix(err.Error(), "toml: ")}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			e.Line, e.Column = at.Position()
		}
		return nil, e
	}
	d := &document{file: file, values: map[string]any{}, places: places(data), asked: map[string]bool{}}
	d.flatten("", tree)
	return d, nil
}

// flatten takes tables apart: {"timing": {"value": …}} becomes "timing.value".
func (d *document) flatten(prefix string, tree map[string]any) {
	for key, v := range tree {
		key = keyText(key)
		if table, ok := v.(map[string]any); ok && len(table) > 0 {
			d.flatten(prefix+key+".", table)
			continue
		}
		d.values[prefix+key] = v
	}
}

// keyText returns one part of a key as it is written, so that "timing.value" in quotes is not taken for value in [timing].
func keyText(key string) string {
	bare := func(r rune) bool {
		return r == '_' || r == '-' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
	}
	if key == "" || strings.ContainsFunc(key, func(r rune) bool { return !bare(r) }) {
		return strconv.Quote(key)
	}
	return key
}

// places finds the line and column of each key and table header.
func places(data []byte) map[string]place {
	out := map[string]place{}
	var p unstable.Parser
	p.Reset(data)
	prefix := ""
	note := func(prefix string, n *unstable.Node) string {
		full := prefix
		var at place
		for it := n.Key(); it.Next(); {
			k := it.Node()
			if at.line == 0 {
				start := p.Shape(k.Raw).Start
				at = place{start.Line, start.Column}
			}
			full += keyText(string(k.Data)) + "."
		}
		out[strings.TrimSuffix(full, ".")] = at
		return full
	}
	var keyValue func(prefix string, n *unstable.Node)
	keyValue = func(prefix string, n *unstable.Node) {
		full := note(prefix, n)
		if v := n.Value(); v.Kind == unstable.InlineTable {
			for it := v.Children(); it.Next(); {
				if it.Node().Kind == unstable.KeyValue {
					keyValue(full, it.Node())
				}
			}
		}
	}
	for p.NextExpression() {
		switch n := p.Expression(); n.Kind {
		case unstable.Table, unstable.ArrayTable:
			prefix = note("", n)
		case unstable.KeyValue:
			keyValue(prefix, n)
		}
	}
	return out
}

// wrong notes an error at a key, or at its table when the key is missing.
func (d *document) wrong(key, format string, args ...any) {
	d.errs = append(d.errs, d.errorAt(key, format, args...))
}

func (d *document) errorAt(key, format string, args ...any) *Error {
	at, ok := d.places[key]
	if table, _, in := strings.Cut(key, "."); !ok && in {
		at = d.places[table]
	}
	return &Error{File: d.file, Line: at.line, Column: at.column, Key: key, Message: fmt.Sprintf(format, args...)}
}

// isWrong tells whether an error was noted at one of the keys.
func (d *document) isWrong(keys ...string) bool {
	return slices.ContainsFunc(d.errs, func(err error) bool {
		e, ok := err.(*Error)
		return ok && slices.Contains(keys, e.Key)
	})
}

// keyOf returns the key of a field that package timing names in words.
func keyOf(field string) string { return strings.ReplaceAll(field, " ", "_") }

// wrongField notes what a check of package timing found, and returns the key: key leads to it from the field.
func (d *document) wrongField(err error, key func(field string) string) string {
	var f *timing.FieldError
	if errors.As(err, &f) {
		d.wrong(key(f.Field), "got %s, want %s", f.Got, f.Want)
		return key(f.Field)
	}
	if err != nil {
		d.errs = append(d.errs, &Error{File: d.file, Message: err.Error()})
	}
	return ""
}

// get returns the value of a key that want describes; a missing one is an error unless it is optional.
func (d *document) get(key, want string, optional bool) (any, bool) {
	d.asked[key] = true
	v, ok := d.values[key]
	if !ok && !optional {
		e := d.errorAt(key, "is missing, want %s", want)
		e.Missing = true
		d.errs = append(d.errs, e)
	}
	return v, ok
}

// text returns a string that is one of the choices, or, without choices, any that can be printed on a line.
func (d *document) text(key, want string, optional bool, choices ...string) string {
	v, ok := d.get(key, want, optional)
	if !ok {
		return ""
	}
	s, isText := v.(string)
	switch {
	case !isText, len(choices) > 0 && !slices.Contains(choices, s):
		d.wrong(key, "got %s, want %s", show(v), want)
		return ""
	case len(choices) == 0 && !printable(s):
		d.wrong(key, "got %s, want %s", show(v), want)
		return ""
	}
	return s
}

// printable tells whether s is a name: not empty, no space at its ends, short, and without control characters.
func printable(s string) bool {
	return s != "" && len(s) <= 100 && s == strings.TrimSpace(s) && !strings.ContainsFunc(s, func(r rune) bool { return !strconv.IsPrint(r) })
}

// number returns a plain number.
func (d *document) number(key, want string, optional bool) (float64, bool) {
	v, ok := d.get(key, want, optional)
	if !ok {
		return 0, false
	}
	switch n := v.(type) {
	case int64:
		return float64(n), true
	case float64:
		if !math.IsNaN(n) && !math.IsInf(n, 0) {
			return n, true
		}
	}
	d.wrong(key, "got %s, want %s", show(v), want)
	return 0, false
}

// quantity returns a number with a unit, written as text, or without one as a plain number.
func (d *document) quantity(key, want string, optional bool) (timing.Quantity, bool) {
	if s, isText := d.values[key].(string); isText {
		d.asked[key] = true
		q, err := timing.ParseQuantity(s)
		if err != nil {
			d.wrong(key, "%s; here %s", strings.TrimPrefix(err.Error(), "timing: "), want)
		}
		return q, err == nil
	}
	n, ok := d.number(key, want, optional)
	return timing.Quantity{Value: n}, ok
}

// unit returns the unit that a quantity is written with, bare where it has none.
func (d *document) unit(key string, bare timing.Unit) timing.Unit {
	s, _ := d.values[key].(string)
	if q, err := timing.ParseQuantity(s); err == nil && q.Unit != timing.NoUnit {
		return q.Unit
	}
	return bare
}

// length returns a length from lo to hi; a number without a unit is in the unit bare.
func (d *document) length(key, want string, optional bool, bare timing.Unit, lo, hi timing.Length) (timing.Length, bool) {
	q, ok := d.quantity(key, want, optional)
	if !ok {
		return 0, false
	}
	l, err := q.Length(bare)
	if err != nil || !(l >= lo && l <= hi) {
		d.wrong(key, "got %s, want %s", q, want)
		return 0, false
	}
	return l, true
}

// angle returns an angle; a number without a unit is in degrees. Its range is checked by package timing.
func (d *document) angle(key, want string, optional bool) (timing.Angle, bool) {
	q, ok := d.quantity(key, want, optional)
	if !ok {
		return 0, false
	}
	a, err := q.Angle(timing.Degree)
	if err != nil {
		d.wrong(key, "got %s, want %s", q, want)
	}
	return a, err == nil
}

// finish returns what was wrong, keys that were not asked for included, in the order of the file.
func (d *document) finish() error {
	for _, key := range slices.Sorted(maps.Keys(d.values)) {
		if !d.asked[key] && !d.emptyTable(key) {
			d.wrong(key, "is no key of this sheet, want one of %s", strings.Join(slices.Sorted(maps.Keys(d.asked)), ", "))
		}
	}
	slices.SortStableFunc(d.errs, func(a, b error) int {
		x, y := a.(*Error), b.(*Error)
		if x.Line != y.Line {
			return x.Line - y.Line
		}
		return x.Column - y.Column
	})
	return errors.Join(d.errs...)
}

// emptyTable tells of a table of this sheet in which nothing stands: what is missing from it is told already.
func (d *document) emptyTable(key string) bool {
	table, ok := d.values[key].(map[string]any)
	if !ok || len(table) > 0 {
		return false
	}
	for asked := range d.asked {
		if strings.HasPrefix(asked, key+".") {
			return true
		}
	}
	return false
}

// show returns a value as a sheet would have it, cut when long.
func show(v any) string {
	s := fmt.Sprint(v)
	if t, ok := v.(string); ok {
		s = strconv.Quote(t)
	}
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return s
}
