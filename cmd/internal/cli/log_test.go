package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// By the quoting rules of the POSIX shell (IEEE Std 1003.1, Shell Command Language, Quoting; from memory).
func TestNamesInHintsCanBeTyped(t *testing.T) {
	for name, want := range map[string]string{
		"2026-05-04-1011-twin": "2026-05-04-1011-twin", "my sessions": `"my sessions"`, "": `""`, "it's": `"it's"`, "a&b": `"a&b"`, `C:\logs`: `C:\logs`,
		`a "b"`: `'a "b"'`, "$HOME": "'$HOME'", "it's $5": `'it'\''s $5'`,
	} {
		assert.Equal(t, want, typed(name), name)
	}
}
