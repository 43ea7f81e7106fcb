package cue

import (
	"time"

	"pgregory.net/rapid"
)

// anyView draws views, senseless ones included.
func anyView() *rapid.Generator[View] {
	text := rapid.OneOf(rapid.Just(""), rapid.StringN(0, 40, 120), rapid.SampledFrom([]string{
		"recording take-01.wav 0:12", "Ein Gerät – 録音装置 – ½ é", "\x1b[31mred\x07", "x throws the newest opening away. Ctrl-C ends.",
	}))
	return rapid.Custom(func(t *rapid.T) View {
		return View{
			State:       State(rapid.IntRange(0, 5).Draw(t, "state")),
			Number:      rapid.IntRange(-1, 100000).Draw(t, "number"),
			OpenedAt:    rapid.SampledFrom([]time.Time{{}, noon, noon.Add(-time.Hour), noon.Add(time.Hour), noon.Add(-1500 * time.Millisecond)}).Draw(t, "opened"),
			Provisional: rapid.Bool().Draw(t, "provisional"),
			Thrown:      rapid.IntRange(-1, 12).Draw(t, "thrown"),
			Heading:     text.Draw(t, "heading"),
			Health:      text.Draw(t, "health"),
			Warning:     text.Draw(t, "warning"),
			Advice:      text.Draw(t, "advice"),
			Note:        text.Draw(t, "note"),
			Record:      text.Draw(t, "record"),
			Keys:        text.Draw(t, "keys"),
			Prompt:      text.Draw(t, "prompt"),
			Typed:       rapid.OneOf(text, rapid.StringMatching(`[0-9.,/+]{0,12}(mm|in|thou|deg)?`)).Draw(t, "typed"),
		}
	})
}
