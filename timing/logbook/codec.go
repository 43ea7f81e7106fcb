package logbook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
)

// timeLayout is RFC 3339 with milliseconds.
const timeLayout = "2006-01-02T15:04:05.000Z07:00"

// maxLine is the longest line [bytes] that is written and that is read; two sheets copied whole stay far below it.
const maxLine = 4 << 20

// maxSeq leaves room to count on and is exact in every JSON reader (2^53).
const maxSeq = 1 << 53

// wire is an entry as it stands in the file.
type wire struct {
	Schema string          `json:"schema"`
	Seq    int64           `json:"seq"`
	Time   string          `json:"time"`
	Kind   string          `json:"kind"`
	Data   json.RawMessage `json:"data"`
}

// encode returns the line of e, newline included.
func encode(e Entry) ([]byte, error) {
	w := wire{Schema: Schema, Seq: e.Seq, Time: e.Time.Format(timeLayout), Kind: e.Data.Kind()}
	var err error
	if o, ok := e.Data.(Other); ok {
		w.Schema = o.Schema
	}
	if w.Data, err = json.Marshal(e.Data); err != nil {
		return nil, fmt.Errorf("logbook: %s entry: %w", w.Kind, err)
	}
	b, err := json.Marshal(w)
	if err != nil {
		return nil, fmt.Errorf("logbook: %s entry: %w", w.Kind, err)
	}
	if len(b) >= maxLine {
		return nil, fmt.Errorf("logbook: %s entry, got %d bytes, want less than %d", w.Kind, len(b), maxLine)
	}
	return append(b, '\n'), nil
}

// MarshalJSON implements json.Marshaler: the entry as it stands in the file.
func (e Entry) MarshalJSON() ([]byte, error) { return encode(e) }

// decode reads one line; its errors say what is wrong with it.
func decode(line []byte) (Entry, error) {
	if e, ok := decodeOwn(line); ok {
		return e, nil
	}
	return decodeAny(line)
}

// decodeAny reads a line whoever wrote it.
func decodeAny(line []byte) (Entry, error) {
	var w wire
	if err := json.Unmarshal(line, &w); err != nil {
		return Entry{}, fmt.Errorf("not a whole JSON object: %w", plainly(err))
	}
	if !strings.HasPrefix(w.Schema, "breakcue.journal/") {
		return Entry{}, fmt.Errorf("schema, got %.40q, want %q", w.Schema, Schema)
	}
	if w.Seq < 1 || w.Seq > maxSeq {
		return Entry{}, fmt.Errorf("seq, got %d, want 1..2^53", w.Seq)
	}
	t, err := time.Parse(time.RFC3339Nano, w.Time)
	if err != nil {
		return Entry{}, fmt.Errorf("time, got %.40q, want a time like %s", w.Time, timeLayout)
	}
	if w.Kind == "" {
		return Entry{}, errors.New("kind is missing")
	}
	data, err := decodeData(w, false)
	if err != nil {
		return Entry{}, fmt.Errorf("data of kind %s: %w", w.Kind, err)
	}
	return Entry{Seq: w.Seq, Time: t, Data: data}, nil
}

// decodeData gives the data its type. With strict set, a field that the kind does not have is an error.
func decodeData(w wire, strict bool) (Data, error) {
	if w.Schema == Schema {
		switch w.Kind {
		case "begin":
			return into[Begin](w.Data, strict)
		case "take":
			return into[Take](w.Data, strict)
		case "place":
			return into[Place](w.Data, strict)
		case "opening":
			return into[Opening](w.Data, strict)
		case "closing":
			return into[Closing](w.Data, strict)
		case "reading":
			return into[Reading](w.Data, strict)
		case "last_closed":
			return into[LastClosed](w.Data, strict)
		case "gap":
			return into[Gap](w.Data, strict)
		case "step":
			return into[Step](w.Data, strict)
		case "tick":
			return into[Tick](w.Data, strict)
		case "caveat":
			return into[Caveat](w.Data, strict)
		case "result":
			return into[Result](w.Data, strict)
		case "amend":
			return into[Amend](w.Data, strict)
		case "end":
			return into[End](w.Data, strict)
		}
	}
	return Other{Schema: w.Schema, Name: w.Kind, Raw: w.Data}, nil
}

func into[T Data](raw json.RawMessage, strict bool) (Data, error) {
	var t T
	if len(raw) == 0 || raw[0] != '{' {
		return nil, errors.New("not an object")
	}
	if !strict {
		return t, plainly(json.Unmarshal(raw, &t))
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	return t, plainly(d.Decode(&t))
}
