package cue

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares got with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "go test -update writes it")
	assert.Equal(t, string(want), got, "go test -update renews %s", file)
}

var sizes = [][2]int{{80, 24}, {120, 40}, {40, 12}, {20, 6}}

// TestScreens holds each scene at each size, as it comes out of the terminal, against a golden file.
func TestScreens(t *testing.T) {
	for _, size := range sizes {
		for _, sc := range scenes() {
			name := fmt.Sprintf("%s-%dx%d", sc.name, size[0], size[1])
			t.Run(name, func(t *testing.T) {
				sim, s, shown := simulated(t, size[0], size[1])
				s.Show(sc.view)
				<-shown
				golden(t, name+".txt", contents(sim))
				require.NoError(t, s.Close())
			})
		}
	}
}

// contents is the text of a simulated screen below a line with its colours. All cells have the same two colours.
func contents(sim tcell.SimulationScreen) string {
	cells, w, h := sim.GetContents()
	ink, paper, _ := cells[w*h-1].Style.Decompose() // no bar reaches there
	var b strings.Builder
	fmt.Fprintf(&b, "ink #%06X on #%06X\n", ink.Hex(), paper.Hex())
	for y := range h {
		var row strings.Builder
		for _, c := range cells[y*w : (y+1)*w] {
			row.WriteString(string(c.Runes))
		}
		b.WriteString(strings.TrimRight(row.String(), " ") + "\n")
	}
	return b.String()
}

// TestBigWord: the word fills most of the width at 80 columns, and grows with the terminal.
func TestBigWord(t *testing.T) {
	for word, least := range map[string]int{"OPEN": 64, "CLOSED": 64, "LOST": 64, "UNKNOWN": 64} {
		d, ok := spell(word)
		require.True(t, ok, word)
		small, ok := d.fit(76, 8, false)
		require.True(t, ok, word)
		assert.GreaterOrEqual(t, small.w, least, word)
		assert.GreaterOrEqual(t, small.rows(), 7, word)
		big, ok := d.fit(230, 30, false)
		require.True(t, ok)
		assert.Greater(t, big.w, 2*small.w)
	}
}

// TestPaintsAnything: whatever there is to show, at whatever size, nothing panics, nothing of it controls the terminal, and
// the state is there in words or in big letters.
func TestPaintsAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := anyView().Draw(t, "view")
		w, h := rapid.IntRange(0, 250).Draw(t, "w"), rapid.IntRange(0, 80).Draw(t, "h")
		p := painter{coarse: rapid.Bool().Draw(t, "coarse")}
		f, _, _ := p.frame(v, noon, w, h)
		assert.Len(t, f.cells, w*h)
		for _, c := range f.cells {
			assert.False(t, unicode.IsControl(c.r) && c.r != 0, "%q", c.r)
		}
		if w >= 20 && h >= 10 && v.Warning != "" && clean(v.Warning) != "" {
			assert.Contains(t, f.String(), "! WARNING:")
		}
		if v.State > Lost {
			v.State = Unknown
		}
		small, big := v.State.words()
		if v.both() {
			return // see TestBothAreNamed
		}
		if text := f.String(); w >= 18 && h >= 4 {
			assert.True(t, strings.Contains(text, small+" "+big) || strings.Contains(text, spaced(small)) || h >= 20, "%s", text)
		}
	})
}

// TestPictures: shut contacts are one piece, contacts apart are two with rows free between them, at every size.
func TestPictures(t *testing.T) {
	for w := 8; w <= 100; w++ {
		for h := 8; h <= 40; h += 2 {
			assert.Equal(t, 0, gapBetweenPoints(picture(Closed, w, h)), "shut, %dx%d", w, h)
			assert.GreaterOrEqual(t, gapBetweenPoints(picture(Open, w, h)), max(2, h/5), "apart, %dx%d", w, h)
			kinds := map[string]bool{}
			for s := Unknown; s <= Lost; s++ {
				kinds[fmt.Sprint(picture(s, w, h).on)] = true
			}
			assert.Len(t, kinds, 4, "%dx%d", w, h)
		}
	}
}

// gapBetweenPoints is the height in dots of the clear space in the column through the middle of the points.
func gapBetweenPoints(d dots) (gap int) {
	first, last := -1, -1
	for y := range d.h {
		if d.at(d.w*35/100, y) {
			if first < 0 {
				first = y
			}
			last = y
		}
	}
	for y := first; y <= last; y++ {
		if !d.at(d.w*35/100, y) {
			gap++
		}
	}
	return gap
}

func TestCutAndWrap(t *testing.T) {
	assert.Equal(t, "abc", cut("abc", 3))
	assert.Equal(t, "a..", cut("abcd", 3))
	assert.Equal(t, ".", cut("abcd", 1))
	assert.Equal(t, "", cut("abcd", 0))
	assert.Equal(t, "録..", cut("録音装置", 5), "two columns each")
	assert.Equal(t, []string{"turn the", "engine"}, wrap("turn  the engine", 8))
	assert.Empty(t, wrap("  ", 8))
	assert.Equal(t, []string{"turn", "engi", "ne", "now"}, wrap("turn engine now", 4), "no row is longer")
	assert.Equal(t, []string{"録", "音"}, wrap("録音", 1), "one letter a row at least")
	keys := texts{width: 20}
	keys.keys("Enter: done  s: leave it  q: end", 1, 2)
	assert.Equal(t, []row{{text: "Enter: done", rank: 1}, {text: "s: leave it  q: end", rank: 2, more: true}}, keys.rows)
	keys = texts{width: 31}
	keys.keys("Enter: done  s: leave it  q: end", 1, 2)
	assert.Equal(t, []row{{text: "Enter: done s: leave it q: end", rank: 1}}, keys.rows, "all on one row")
	assert.Equal(t, "a bé", clean("a\n\x1bb\x07\u0301é"))
}
