package cue

import (
	"strconv"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// glass is a terminal that knows what a pen sends: cursor positions, dresses, erasing and letters.
type glass struct {
	w, h  int
	x, y  int
	dress string
	cells map[[2]int]string // dress and letter
}

// take reads what was sent. Dresses are what stands between two letters and is neither of the other commands.
func (g *glass) take(t require.TestingT, sent string) {
	for sent != "" {
		if !strings.HasPrefix(sent, "\x1b") {
			r := []rune(sent)[0]
			require.Less(t, g.x, g.w, "written beyond the edge")
			require.Less(t, g.y, g.h, "written below the edge")
			g.cells[[2]int{g.x, g.y}] = g.dress + string(r)
			g.x++
			if wide(r) {
				g.cells[[2]int{g.x, g.y}] = ""
				g.x++
			}
			sent = sent[len(string(r)):]
			continue
		}
		if strings.HasPrefix(sent, "\x1b(B") {
			sent = sent[3:]
			continue
		}
		end := strings.IndexAny(sent[2:], "HJhlm") + 2
		require.Greater(t, end, 1, "%q", sent)
		body, command := sent[2:end], sent[end]
		sent = sent[end+1:]
		switch command {
		case 'H':
			row, column, two := strings.Cut(body, ";")
			g.x, g.y = 0, 0
			if two {
				g.x, g.y = number(t, column)-1, number(t, row)-1
			}
		case 'J':
			clear(g.cells)
		case 'm':
			if body == "" || body == "0" {
				g.dress = ""
			} else {
				g.dress += "[" + body + "]"
			}
		default:
			require.Contains(t, []string{"?2026"}, body)
		}
	}
}

func number(t require.TestingT, s string) int {
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

func testPen(t require.TestingT, name string, colours int) *pen {
	ti, err := tcell.LookupTerminfo(name)
	require.NoError(t, err)
	return newPen(adapted(ti, colours == 0), dressesFor(colours), false)
}

// TestPen: however views follow each other, what is on the glass is what one would see had only the last been drawn.
func TestPen(t *testing.T) {
	pens := map[string]*pen{"256": testPen(t, "xterm-256color", 256), "8": testPen(t, "xterm", 8), "0": testPen(t, "vt220", 0)}
	rapid.Check(t, func(t *rapid.T) {
		p := pens[rapid.SampledFrom([]string{"256", "8", "0"}).Draw(t, "colours")]
		var last picturedFrame
		var g *glass
		for range rapid.IntRange(1, 6).Draw(t, "views") {
			w, h := rapid.SampledFrom([]int{0, 1, 30, 80}).Draw(t, "w"), rapid.SampledFrom([]int{0, 1, 7, 24}).Draw(t, "h")
			if g == nil || w != g.w || h != g.h {
				g, last.valid = &glass{w: w, h: h, cells: map[[2]int]string{}}, false
			}
			v := anyView().Draw(t, "view")
			state := func(name string) State { return State(rapid.IntRange(0, 3).Draw(t, name)) }
			back := grounds{state("background"), state("of set 1"), state("of set 2")}
			next := picturedFrame{frame: paint(v, at{noon, back, false}, w, h), back: back, valid: true}
			g.take(t, string(p.write(nil, next, last)))
			assert.Empty(t, p.write(nil, next, next), "what is there is not written again")
			last = next

			once := &glass{w: w, h: h, cells: map[[2]int]string{}}
			once.take(t, string(p.write(nil, next, picturedFrame{})))
			require.Equal(t, once.cells, g.cells)
			require.GreaterOrEqual(t, len(g.cells), w*h, "the background covers all")
		}
	})
}

func TestPenWithoutColour(t *testing.T) {
	p := testPen(t, "xterm-256color", 0)
	for s := range Lost + 1 {
		for _, sc := range scenes() {
			sent := string(p.write(nil, picturedFrame{frame: paint(sc.view, at{noon, grounds{s, s, Open}, false}, 80, 24), back: grounds{s, s, Open}, valid: true}, picturedFrame{}))
			assert.NotRegexp(t, `\x1b\[[0-9;]*[34]\d`, sent, "a colour code in %s", sc.name)
		}
	}
	assert.Empty(t, adapted(p.ti, true).ResetFgBg)
}

// TestPenInASCII: a terminal without half blocks gets the same picture in reverse video.
func TestPenInASCII(t *testing.T) {
	p := testPen(t, "vt220", 0)
	p.ascii = true
	for _, sc := range scenes() {
		v := sc.view
		v.Heading = "Gerät 録音"
		sent := string(p.write(nil, picturedFrame{frame: paint(v, at{noon, grounds{Open, Open, Lost}, true}, 80, 24), back: grounds{Open, Open, Lost}, valid: true}, picturedFrame{}))
		for _, r := range sent {
			assert.Less(t, r, rune(0x80), sc.name)
		}
		assert.Contains(t, sent, "Ger?t ????", sc.name)
	}
}

func TestAdapted(t *testing.T) {
	ti, err := tcell.LookupTerminfo("vt100")
	require.NoError(t, err)
	a := adapted(ti, false)
	assert.NotContains(t, a.SetCursor+a.Clear+a.AttrOff+a.Bold+a.Reverse, "$<", "no pauses")
	assert.Empty(t, a.EnterKeypad)
	assert.NotEmpty(t, a.DisableAutoMargin)
	assert.NotEmpty(t, ti.EnterKeypad, "the description itself is left as it is")
}
