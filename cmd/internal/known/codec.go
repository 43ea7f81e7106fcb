package known

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
)

const schema = "breakcue.known/1"

// stored is the file as JSON.
type stored struct {
	Schema    string   `json:"schema"`
	Last      string   `json:"last"`
	Confirmed []string `json:"confirmed"`
}

func (f *File) encode() []byte {
	s := stored{Schema: schema, Last: valid(f.Last), Confirmed: f.confirmed}
	if s.Confirmed == nil {
		s.Confirmed = []string{}
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(s); err != nil {
		panic(err) // strings always encode
	}
	return b.Bytes()
}

// decode takes nothing that encode does not write, but for white space, order and repetition.
func decode(data []byte) (*File, error) {
	var s stored
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	err := d.Decode(&s)
	if err == nil {
		if _, more := d.Token(); more != io.EOF {
			err = errors.New("more follows the object")
		}
	}
	switch {
	case err != nil:
		return nil, fmt.Errorf("got no valid content (%w), want one JSON object", err)
	case s.Schema != schema:
		return nil, fmt.Errorf("schema, got %q, want %q", s.Schema, schema)
	case slices.Contains(s.Confirmed, ""):
		return nil, errors.New("confirmed, got an empty name, want names of devices")
	}
	f := &File{Last: s.Last}
	for _, device := range s.Confirmed {
		f.Confirm(device)
	}
	return f, nil
}
