package sheet

import "fmt"

// Error is one thing wrong with a sheet.
type Error struct {
	File         string // name as given
	Line, Column int    // from 1; 0 when the error has no place, such as a missing key of the top level
	Key          string // with its table: "timing.value"; empty for errors of the whole file
	Message      string // what was wrong and what is allowed
	Missing      bool   // the key is not there
}

// Error implements error: "engine.toml:5:1: stroke: got …, want …".
func (e *Error) Error() string {
	out := e.File
	if e.Line > 0 {
		out = fmt.Sprintf("%s:%d:%d", e.File, e.Line, e.Column)
	}
	if e.Key != "" {
		out += ": " + e.Key
	}
	return out + ": " + e.Message
}
