package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"breakcue/cmd/internal/cue"
)

// What a key is to the guide. Escape ended the work from any page, the one that it should have closed too.
func TestKeysOfTheGuide(t *testing.T) {
	for _, tt := range []struct {
		key  cue.Key
		text string
		ok   bool
	}{
		{cue.Key{Name: cue.Enter}, "", true},
		{cue.Key{Name: cue.Escape}, "*", true},
		{cue.Key{Rune: '*'}, "*", true},
		{cue.Key{Rune: '7'}, "7", true},
		{cue.Key{Name: cue.Backspace}, "", false},
	} {
		text, ok := commandOf(tt.key)
		assert.Equal(t, tt.ok, ok, "%v", tt.key)
		assert.Equal(t, tt.text, text, "%v", tt.key)
	}
}
