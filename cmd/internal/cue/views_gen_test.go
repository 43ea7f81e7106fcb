package cue

import (
	"strings"
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
			Page:        anyPage().Draw(t, "page"),
			Task:        rapid.OneOf(text, rapid.Just("! keep hands, sleeves and tools off what turns")).Draw(t, "task"),
			Result:      rapid.OneOf(text, rapid.SampledFrom([]string{"0.28 EARLY", "0.00", "12.5 deg LATE", "?"})).Draw(t, "result"),
			Typed:       rapid.OneOf(text, rapid.StringMatching(`[0-9.,/+]{0,12}(mm|in|thou|deg)?`)).Draw(t, "typed"),
			Sets:        anySets().Draw(t, "sets"),
			Hand:        rapid.IntRange(-1, 3).Draw(t, "hand"),
		}
	})
}

// anySets draws two sets of points, senseless ones included; half of the time there are none.
func anySets() *rapid.Generator[[2]Points] {
	name := rapid.OneOf(rapid.SampledFrom([]string{"left", "set 2", "Zylinder 録", "\x1b[31m", "the one at the back of the engine"}), rapid.StringN(1, 12, 40))
	return rapid.OneOf(rapid.Just([2]Points{}), rapid.Custom(func(t *rapid.T) (sets [2]Points) {
		for i := range sets {
			sets[i] = Points{
				Name:        name.Draw(t, "name"),
				State:       State(rapid.IntRange(0, 5).Draw(t, "state of a set")),
				Number:      rapid.IntRange(-1, 1000).Draw(t, "number of a set"),
				OpenedAt:    rapid.SampledFrom([]time.Time{{}, noon, noon.Add(-time.Minute)}).Draw(t, "opening of a set"),
				Provisional: rapid.Bool().Draw(t, "provisional set"),
				Thrown:      rapid.IntRange(-1, 3).Draw(t, "thrown of a set"),
			}
		}
		return sets
	}))
}

// anyPage draws pages, senseless ones included; half of the time it is none.
func anyPage() *rapid.Generator[Page] {
	return rapid.OneOf(rapid.Just(Page{}), rapid.Custom(func(t *rapid.T) Page {
		items := rapid.SliceOfN(anyItem(), 0, 30).Draw(t, "items")
		return Page{
			Title:   rapid.OneOf(rapid.StringN(0, 60, 120), rapid.SampledFrom([]string{"make it safe: battery ignition", "x"})).Draw(t, "title"),
			At:      rapid.IntRange(-1, 20).Draw(t, "at"),
			Of:      rapid.IntRange(-1, 20).Draw(t, "of"),
			Items:   strings.Join(items, "\n"),
			Current: rapid.IntRange(-1, len(items)).Draw(t, "current"),
		}
	}))
}

// anyItem draws one line of a page.
func anyItem() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		mark := rapid.SampledFrom([]string{"", "! ", "[ ] ", "[x] ", "1 ", "9 ", "[y] "}).Draw(t, "mark")
		words := rapid.SliceOfN(rapid.StringMatching(`[a-zéß録.,;:°±]{1,12}`), 0, 20).Draw(t, "words")
		return mark + strings.Join(words, " ")
	})
}
