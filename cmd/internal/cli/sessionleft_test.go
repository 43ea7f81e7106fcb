package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/live"
)

// What the journal says of a session that stopped before its last step: a sound card that went away is not somebody who left, and whom
// time ran out before the cable was on has done nothing wrong.
func TestHowAGuidedSessionStopped(t *testing.T) {
	for name, tt := range map[string]struct {
		args   []string
		fails  bool
		code   int
		reason string
	}{
		"the time was up":          {[]string{"--for", "1s"}, false, ExitOK, "left"},
		"the sound card went away": {nil, true, ExitAudio, "failed"},
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t)
			s.typedAt(map[float64]string{9: ""}) // never: the room for the answer about headphones
			s.sound.Frames = 48000 * 4
			if inner := s.wrap; tt.fails {
				s.wrap = func(src audio.Source) audio.Source {
					return inner(audiotest.FailAfter(src, 48000*3, &live.DeviceError{Device: "line box", What: "no sound for 2 s"}))
				}
			}
			root := t.TempDir()
			require.Equal(t, tt.code, s.run(t, append(append(append([]string{}, sheetArgs...), "--plain", "--dir", root), tt.args...)...), s.errs.String())
			_, reason := readingsIn(t, root)
			assert.Equal(t, tt.reason, reason)
			assert.Contains(t, s.errs.String(), "left at step 1 of 20")
		})
	}
}
