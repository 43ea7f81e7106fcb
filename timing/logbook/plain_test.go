package logbook

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is said of a damaged line is for people, not in the words of the library that reads JSON.
func TestDamageInPlainWords(t *testing.T) {
	const good = `{"schema":"breakcue.journal/1","seq":3,"time":"2026-05-04T10:11:12Z","kind":"opening","data":{"take":1,"id":7,"frac":0.5}}`
	for _, c := range []struct{ line, want string }{
		{good[:40], "not a whole JSON object: it ends in the middle"},
		{"{", "not a whole JSON object: it ends in the middle"},
		{strings.Replace(good, "3", "?", 1), "not a whole JSON object: byte 38 cannot stand where it does"}, // counted by hand: from 1
		{strings.Replace(good, `7`, "\x00", 1), "not a whole JSON object: byte 109 cannot stand where it does"},
		{"[]", "not a whole JSON object: it is a list"},
		{`"opening"`, "not a whole JSON object: it is text"},
		{"12", "not a whole JSON object: it is the number"},
		{"true", "not a whole JSON object: it is true or false"},
		{strings.Replace(good, "3", `"3"`, 1), `not a whole JSON object: field "seq", got text, want a whole number`},
		{strings.Replace(good, "3", `3.5`, 1), `not a whole JSON object: field "seq", got the number 3.5, want a whole number`},
		{strings.Replace(good, `"opening"`, `{}`, 1), `not a whole JSON object: field "kind", got an object, want text`},
		{strings.Replace(good, "0.5", `"half"`, 1), `data of kind opening: field "frac", got text, want a number`},
		{strings.Replace(good, "0.5", `0.5,"before":[1]`, 1), `data of kind opening: field "before", got a list, want an object`},
		{strings.Replace(good, "7", `1e99`, 1), `data of kind opening: field "id", got the number 1e99, want a whole number`},
	} {
		j, err := Parse(strings.NewReader(c.line + "\n"))
		require.NoError(t, err)
		require.Len(t, j.Damaged, 1, c.line)
		assert.Equal(t, c.want, j.Damaged[0].Reason, c.line)
	}
}
