package logbook

import (
	"bytes"
	"encoding/json"
	"time"
)

var beginKind = []byte(`"kind":"begin"`)

// skim reads a journal for a Summary, many times as fast as Parse does. Of the lines that this version writes it takes the head,
// and of readings the rest; lines of kinds that no Summary counts are left out, and those that are only counted come without
// their data. Of Begin the sheets are left out. Whatever is not just as this version writes it goes the way of Parse. So damage in
// the middle of a line that is passed over goes unnoticed; Parse finds that, and Check.
func skim(file []byte) Journal {
	j := Journal{Entries: make([]Entry, 0, bytes.Count(file, []byte{'\n'})+1)}
	for n := 1; len(file) > 0; n++ {
		line := file
		if i := bytes.IndexByte(file, '\n'); i >= 0 {
			line = file[:i+1]
		}
		file = file[len(line):]
		if len(j.Entries) > 0 || bytes.Contains(line[:min(len(line), 200)], beginKind) { // the time of the first is wanted
			if e, wanted, ok := skimLine(line); ok {
				if wanted {
					j.Entries = append(j.Entries, e)
				}
				continue
			}
		}
		j.add(n, line, len(line))
	}
	return j
}

// skimLine takes a line just as encode writes it; ok is false for any other. wanted tells that a Summary needs the entry.
func skimLine(line []byte) (e Entry, wanted, ok bool) {
	line, ok = bytes.CutSuffix(line, []byte{'\n'})
	if !ok || len(line) >= maxLine || bytes.IndexByte(line, 0) >= 0 {
		return Entry{}, false, false
	}
	seq, at, kind, data, ok := headOf(line)
	if !ok {
		return Entry{}, false, false
	}
	e.Seq = seq
	switch kind {
	case "begin":
		var err error
		e.Time, err = time.Parse(time.RFC3339Nano, at)
		e.Data, ok = skimBegin(data)
		return e, true, ok && err == nil
	case "reading":
		e.Data, ok = skimReading(data)
		return e, true, ok
	case "opening":
		e.Data = Opening{}
		return e, true, true
	case "take":
		e.Data = Take{}
		return e, true, true
	case "end":
		e.Data, ok = skimEnd(data)
		return e, true, ok
	case "place", "closing", "last_closed", "gap", "step", "tick", "caveat", "result":
		return e, false, true
	}
	return Entry{}, false, false
}

// skimBegin takes what stands before the sheets.
func skimBegin(data []byte) (Begin, bool) {
	// In a text the quotes would be escaped.
	head, _, ok := bytes.Cut(data[1:], []byte(`,"engine_sheet":"`))
	if !ok {
		return Begin{}, false
	}
	var b Begin
	err := json.Unmarshal(append(append([]byte{'{'}, head...), '}'), &b)
	return b, err == nil
}

// skimEnd takes why a session ended, as one of the plain words that this program writes.
func skimEnd(data []byte) (e End, ok bool) {
	reason, found := bytes.CutPrefix(data, []byte(`{"reason":"`))
	if reason, ok = bytes.CutSuffix(reason, []byte(`"}`)); !found || !ok {
		return End{}, false
	}
	plain := func(r rune) bool { return r < 'a' || r > 'z' }
	return End{Reason: string(reason)}, bytes.IndexFunc(reason, plain) < 0
}

// skimReading takes a reading without escapes, its fields in the order in which they are written.
func skimReading(data []byte) (r Reading, ok bool) {
	s := data[1 : len(data)-1]
	field := func(head string) bool {
		ok := len(s) > len(head) && string(s[:len(head)]) == head
		if ok {
			s = s[len(head):]
		}
		return ok
	}
	text := func(head string) string {
		if !field(head) {
			return ""
		}
		// What takes more than one byte may be no UTF-8, and what is escaped means something else: both are for Parse.
		end := 0
		for end < len(s) && s[end] >= ' ' && s[end] <= '~' && s[end] != '"' && s[end] != '\\' {
			end++
		}
		if end == len(s) || s[end] != '"' {
			return ""
		}
		value := string(s[:end])
		s = s[end+1:]
		return value
	}
	number := func(head string) (value int64) {
		if field(head) {
			value, s = leadingNumber(s)
		}
		return value
	}
	r.Text = text(`"text":"`)
	r.Cylinder = text(`,"cylinder":"`)
	r.Phase = Phase(text(`,"phase":"`))
	r.Take = int(number(`,"take":`))
	r.Opening = number(`,"opening":`)
	r.Unusable = text(`,"unusable":"`)
	return r, len(s) == 0 && r.Text != "" && r.Cylinder != "" && r.Phase != ""
}
