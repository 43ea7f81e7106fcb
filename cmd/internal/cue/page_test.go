package cue

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// barAt is the text of the rows in reverse video from y on, and how many they are.
func (f frame) barAt(y int) (text string, rows int) {
	for ; y < f.h && f.cells[y*f.w].look.bar(); y++ {
		for _, c := range f.cells[y*f.w : (y+1)*f.w] {
			if c.r != 0 {
				text += string(c.r)
			}
		}
		rows++
	}
	return text, rows
}

func solid(s string) string { return strings.Join(strings.Fields(s), "") }

// TestCurrentItemIsOnTheScreen: whatever else there is to show, the current item is there, once, in reverse video and with its
// pointer; whole, unless all that is not needed beside it has gone.
func TestCurrentItemIsOnTheScreen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := anyView().Draw(t, "view")
		items := append(rapid.SliceOfN(anyItem(), 0, 30).Draw(t, "items"), "[ ] see that nothing binds")
		v.Page = Page{Title: "make it safe: battery ignition", At: rapid.IntRange(0, 17).Draw(t, "at"), Of: 17, Items: strings.Join(items, "\n")}
		v.Page.Current = rapid.IntRange(0, len(items)-1).Draw(t, "current")
		w := rapid.OneOf(rapid.IntRange(20, 30), rapid.IntRange(20, 150)).Draw(t, "w")
		h := rapid.OneOf(rapid.IntRange(6, 12), rapid.IntRange(6, 60)).Draw(t, "h")
		f := paint(v, at{now: noon}, w, h)

		if v.Warning != "" {
			assert.Contains(t, f.String(), "\n ! WARNING:", "it is there as well")
		}
		if v.Prompt != "" || v.Result != "" || v.Typed != "" {
			assert.Regexp(t, `(?m)^ [>=]( |$)`, f.String(), "and so is what is typed")
		}
		found := -1
		for y := range f.h {
			if c := f.cells[y*f.w]; c.r == '>' && c.look.bar() {
				require.Less(t, found, 0, "there is one pointer")
				found = y
			}
		}
		require.GreaterOrEqual(t, found, 0, "%s", f)
		text, rows := f.barAt(found)
		want := ">" + solid(items[v.Page.Current])
		if strings.HasPrefix(solid(text), want) {
			return
		}
		beside := 1 // the state of the points
		for _, there := range []bool{v.both() && w < sideBySide, h >= 16, v.Warning != "", v.Prompt != "", v.Prompt != "" || v.Result != "" || v.Typed != ""} {
			if there {
				beside++
			}
		}
		require.GreaterOrEqual(t, rows, h-beside, "%q is cut though there is room\n%s", items[v.Page.Current], f)
		begin, _, cut := strings.Cut(solid(text), "..")
		assert.True(t, cut, "it is cut and does not say so: %s", text)
		assert.True(t, strings.HasPrefix(want, begin), "%q", begin)
	})
}

// TestSmallestPage: on the smallest screen a caution that is dealt with drives all others away, and the end of one that is too long
// for it is marked.
func TestSmallestPage(t *testing.T) {
	v := View{State: Open, Note: "Opening 3 thrown away.", Keys: pageKeys, Page: Page{Title: "open it up", At: 3, Of: 17, Current: 1}}
	draw := func(caution string) string {
		v.Page.Items = "[x] wipe it up\n! " + caution + "\n[ ] go on"
		return paint(v, at{now: noon}, 20, 6).String()
	}
	assert.Equal(t, " POINTS OPEN\n step 3 of 17: ope..\n  [x] wipe it up\n> ! fuel burns\n  [ ] go on\n Enter: tick, nex..\n", draw("fuel burns"))
	assert.Equal(t, " POINTS OPEN\n> ! keep hands and\n    sleeves off\n    what turns and\n    let air in\n  1 above, 1 below\n",
		draw("keep hands and sleeves off what turns and let air in"))
	assert.Equal(t, " POINTS OPEN\n> ! keep hands and\n    sleeves off\n    what turns and\n    let air in\n    before you ..\n",
		draw("keep hands and sleeves off what turns and let air in before you begin with it"))
}

// TestPageTellsOfWhatIsHidden: items shown and items told of are all items, and no page takes more rows than it may.
func TestPageTellsOfWhatIsHidden(t *testing.T) {
	more := regexp.MustCompile(`^  (\d+) more (above|below)|^  (\d+) above, (\d+) below$`)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "items")
		var items []string
		for i := range n {
			items = append(items, fmt.Sprintf("! item%d", i)+strings.Repeat(" turn slowly", rapid.IntRange(0, 12).Draw(t, "words")))
		}
		b := Page{Title: "set the timing", At: 3, Of: 17, Items: strings.Join(items, "\n"), Current: rapid.IntRange(-1, n).Draw(t, "current")}.
			blocks(rapid.IntRange(20, 120).Draw(t, "w"))
		room := b.least() + rapid.IntRange(0, 60).Draw(t, "room")
		rows := b.within(room)
		require.LessOrEqual(t, len(rows), room)
		sum := 0
		for _, r := range rows {
			sum += strings.Count(r.text, " item")
			for _, s := range append(more.FindStringSubmatch(r.text), "")[1:] {
				if k, err := strconv.Atoi(s); err == nil {
					sum += k
				}
			}
		}
		assert.Equal(t, n, sum, "%v", rows)
		for short := range room {
			assert.LessOrEqual(t, len(b.within(short)), short)
		}
	})
}

// TestPageSaysTheState: on a page the states differ by their words alone.
func TestPageSaysTheState(t *testing.T) {
	for _, size := range sizes {
		seen := map[string]bool{}
		for s := Unknown; s <= Lost; s++ {
			v := View{State: s, Page: safePage()}
			f := paint(v, at{now: noon, back: grounds{Closed}}, size[0], size[1])
			small, big := s.words()
			assert.Contains(t, f.String(), " "+small+" "+big)
			seen[f.String()] = true
		}
		assert.Len(t, seen, 4)
	}
}

// TestPageStandsStill: a note, an advice or what was typed moves no item.
func TestPageStandsStill(t *testing.T) {
	for _, size := range sizes[:3] {
		for _, g := range []Page{safePage(), tdcPage()} {
			v := View{State: Closed, Keys: pageKeys, Page: g}
			bare := paint(v, at{now: noon}, size[0], size[1])
			v.Note, v.Advice = "Opening 3 thrown away.", "Tick it when it is done."
			full := paint(v, at{now: noon}, size[0], size[1])
			rows := size[1] - textRows(size[1])
			assert.True(t, slices.Equal(bare.cells[:rows*size[0]], full.cells[:rows*size[0]]), "%v\n%s", size, full)
		}
	}
}

func TestItems(t *testing.T) {
	for line, want := range map[string]item{
		"! live points":  {"! ", "live points"},
		"[ ] battery":    {"[ ] ", "battery"},
		"[x] battery":    {"[x] ", "battery"},
		"[-] battery":    {"[-] ", "battery"},
		"3 both":         {"3 ", "both"},
		"30 mm":          {"", "30 mm"},
		"[y] battery":    {"", "[y] battery"},
		"":               {},
		"!never":         {"", "!never"},
		"[ ]\ttabs  go":  {"[ ] ", "tabs  go"},
		"[ ] \x1b[31mx ": {"[ ] ", "[31mx "},
	} {
		assert.Equal(t, []item{{"", "x"}, want, {"", "y"}}, Page{Items: "x\n" + line + "\ny\n"}.items(), "%q", line)
	}
	assert.Empty(t, Page{}.items())
	assert.Equal(t, []string{"[ ] turn the", "    engine"}, item{"[ ] ", "turn the engine"}.rows(12))
	assert.Equal(t, []string{"[ ]"}, item{"[ ] ", ""}.rows(12))
	assert.Equal(t, []string{"[", "]", "ab"}, item{"[ ] ", "ab"}.rows(2), "too narrow for an indent")
	assert.Equal(t, "step 4 of 17: a", Page{Title: "a", At: 4, Of: 17}.heading())
	assert.Equal(t, "a", Page{Title: "a", Of: 17}.heading())
}
