package cue

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestWhatStandsBesideAGauge(t *testing.T) {
	for _, c := range []struct {
		text  string
		width int
		want  string
	}{
		{"COMES BACK  [####....]  -26.5 dBFS", 34, "COMES BACK  [####....]  -26.5 dBFS"},
		{"COMES BACK  [####....]  -26.5 dBFS", 32, "COMES BACK  [###...]  -26.5 dBFS"},
		{"COMES BACK  [########]  -26.5 dBFS", 30, "COMES BACK  [####]  -26.5 dBFS"},
		{"COMES BACK  [####....]  -26.5 dBFS", 29, "COMES BACK  -26.5 dBFS"},
		{"MEASURING  [........]", 20, "MEASURING  [.......]"},
		{"no gauge at all", 4, "no gauge at all"},
	} {
		assert.Equal(t, c.want, gauged(c.text, c.width), "%d", c.width)
	}
}

func TestAHeadingIsCutBetweenItsParts(t *testing.T) {
	const all = "cable in line, tones 975 (left) and 1560 Hz (right), built-in bench, at -12 dBFS"
	for width, want := range map[int]string{
		80: all, 79: "cable in line, tones 975 (left) and 1560 Hz (right), built-in bench", 66: "cable in line, tones 975 (left) and 1560 Hz (right)", 3: "cable in line",
	} {
		assert.Equal(t, want, leading(all, width), "%d", width)
	}
}

// However small the screen, whoever goes on from page to page sees every item, and comes back to the first.
func TestEveryItemIsOnOneOfThePages(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		items := rapid.SliceOfN(anyItem(), 1, 30).Draw(r, "items")
		text, seen := "", make([]bool, len(items))
		for _, it := range items {
			text += "- item " + it + "\n"
		}
		v := anyView().Draw(r, "view")
		v.Page = Page{Title: "the cable will do", Items: text, Current: -1}
		w, h := rapid.IntRange(20, 90).Draw(r, "w"), rapid.IntRange(6, 40).Draw(r, "h")
		for range items {
			f := newFrame(w, h)
			_, room, _, b := f.layPage(v, at{now: noon})
			rows, shown := b.within(room), 0
			for _, row := range rows {
				if !row.more && len(row.text) > 7 && row.text[2:7] == "- ite" {
					shown++
				}
			}
			to := v.nextItem(w, h)
			last := to
			if to == 0 {
				last = len(items)
			}
			for i := last - shown; i < last; i++ {
				seen[i] = true
			}
			if to == 0 {
				break
			}
			assert.Greater(r, to, v.Page.From)
			v.Page.From = to
		}
		assert.NotContains(r, seen, false)
		assert.Zero(r, v.nextItem(w, h), "the last page was reached")
	})
}
