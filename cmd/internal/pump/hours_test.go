//go:build soak

package pump_test

import (
	"errors"
	"flag"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"breakcue/audio/audiotest"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var hours = flag.Float64("hours", 1, "length of each kind of sound [h]")

// The reasons that fit sounds that are no tone through contacts.
var fitting = []error{detect.ErrNoTone, detect.ErrNotATone, detect.ErrManyTones, detect.ErrNoChange, detect.ErrNoise, detect.ErrContrast}

// liveTones are the tones that the program plays by itself at 48 kHz, in line and across.
var liveTones = [2]float64{975, 3225}

const gateSlack = 0.03 // [s] by which an edge may lie off the begin or end of a beep, which take milliseconds themselves

// heard counts what was said of a kind of sound.
type heard struct {
	hours                      float64
	pieces                     int
	reasons                    map[error]int
	others                     []string // reasons that do not fit
	accepted, edges, madeUp    int
	learnt, cued, settledEdges int // live
	wrong                      []string
}

// An hour of music, one of speech and one of a shop: no recording of it has an edge, and live nothing is cued. A beep that begins and ends
// at once is a tone through contacts, for all that can be heard of it: where one is accepted, its edges must be those of the beeps.
func TestHoursOfOtherSound(t *testing.T) {
	var table strings.Builder
	fmt.Fprintf(&table, "\n%-8s %6s %7s %8s %6s %8s %7s %6s %8s  %s\n", "", "hours", "pieces", "accepted", "edges", "made up", "learnt", "cued", "settled", "refused")
	kinds := []string{"music", "shop"}
	if speaks() {
		kinds = append(kinds, "speech")
	} else {
		t.Log("no speech: espeak-ng is not installed")
	}
	got := map[string]*heard{}
	for _, kind := range kinds {
		h := &heard{reasons: map[error]int{}}
		got[kind] = h
		for _, seconds := range []float64{10, 60, 600} { // a third of the time in each
			for n := range int(math.Max(1, *hours*1200/seconds)) {
				h.hear(t, kind, seconds, n)
			}
		}
		var refused []string
		for _, r := range fitting {
			if n := h.reasons[r]; n > 0 {
				refused = append(refused, fmt.Sprintf("%d: %v", n, r))
			}
		}
		fmt.Fprintf(&table, "%-8s %6.2f %7d %8d %6d %8d %7d %6d %8d  %s\n", kind, h.hours, h.pieces, h.accepted, h.edges, h.madeUp, h.learnt, h.cued, h.settledEdges,
			strings.Join(refused, "; "))
	}
	t.Log(table.String())
	for _, kind := range kinds {
		h := got[kind]
		t.Log(kind, "\n", strings.Join(h.wrong, "\n"))
		assert.Zero(t, h.madeUp, "%s: edges made up", kind)
		assert.Empty(t, h.others, "%s: refused for a reason that does not fit", kind)
		assert.Zero(t, h.cued, "%s: openings cued", kind)
		assert.Zero(t, h.settledEdges, "%s: edges settled live", kind)
	}
}

// hear makes one piece and takes it both ways.
func (h *heard) hear(t *testing.T, kind string, seconds float64, n int) {
	seed := uint64(n) + uint64(seconds)<<20
	x, fs, gates, style := piece(t, kind, seconds, n, seed)
	what := fmt.Sprintf("%s, %g s, seed %d, %d frames/s", style, seconds, seed, fs)
	h.hours += seconds / 3600
	h.pieces++

	wiring := detect.Wiring(n % 2)
	a := analyse(t, opened(fs, x), pump.Options{Wiring: wiring})
	if a.Refused == nil {
		h.accepted++
		h.edges += len(a.Edges)
		none := 0
		for _, e := range a.Edges {
			at := e.At() / float64(fs)
			if !slices.ContainsFunc(gates, func(g float64) bool { return math.Abs(g-at) < gateSlack }) {
				none++
			}
		}
		h.madeUp += none
		if none > 0 {
			h.wrong = append(h.wrong, fmt.Sprintf("%s: accepted, tone %.1f Hz, %d edges, %d made up", what, a.Found.Tone, len(a.Edges), none))
		}
	} else {
		require.Empty(t, a.Edges)
		i := slices.IndexFunc(fitting, func(r error) bool { return errors.Is(a.Refused, r) })
		if i < 0 {
			h.others = append(h.others, fmt.Sprintf("%s: %v", what, a.Refused))
		} else {
			h.reasons[fitting[i]]++
		}
	}

	tone := n / 2 % 2
	l, events := follow(t, audiotest.FromSlice(fs, 1, x), pump.FollowOptions{Tone: liveTones[tone], Wiring: detect.Wiring(tone)})
	_, times := l.Learnt()
	h.learnt += times
	cued := 0
	for _, e := range events {
		if e.Kind == detect.KindOpen && e.Stage == detect.Decided {
			cued++
		}
	}
	h.cued += cued
	h.settledEdges += len(settled(events))
	if cued > 0 || len(settled(events)) > 0 {
		h.wrong = append(h.wrong, fmt.Sprintf("%s: live at %g Hz, %d cued, %d edges settled", what, liveTones[tone], cued, len(settled(events))))
	}
}

// piece makes a piece of a kind; styles take turns, a long piece is of one style too.
func piece(t *testing.T, kind string, seconds float64, n int, seed uint64) (x []float32, fs int, gates []float64, style string) {
	fs = []int{48000, 44100, 22050}[n%3]
	c := newCanvas(fs, seconds, seed)
	switch kind {
	case "speech":
		style = kind
		c.x, fs = speech(t, seconds, seed)
	default:
		styles := musics
		if kind == "shop" {
			styles = shops
		}
		names := slices.Sorted(maps.Keys(styles))
		style = names[(n+int(seconds))%len(names)]
		styles[style](c)
	}
	return c.level(c.between(0.03, 0.7), pick(c, 0, 1e-5, 3e-4, 3e-3)), fs, c.gates, style
}
