package session

import (
	"bytes"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/sheet"
)

func stepsOf(t testing.TB, engine, scale string) (Sheets, []Step, string) {
	s, err := LoadSheets("../../../testdata/sheets/"+engine+".toml", "../../../testdata/sheets/"+scale+".toml")
	require.NoError(t, err)
	steps, err := Steps(s)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, PrintSteps(&b, s, steps))
	return s, steps, b.String()
}

func index(t testing.TB, steps []Step, id string) int {
	at := slices.IndexFunc(steps, func(s Step) bool { return s.ID == id })
	require.GreaterOrEqual(t, at, 0, id)
	return at
}

// flat takes the line ends out, so that a sentence can be looked for.
func flat(text string) string { return strings.Join(strings.Fields(text), " ") }

// Whatever the engine, the order is that of the trade (common practice): safe before open, everything as found before
// anything is moved, the gap before the timing, as left after it, and all that was taken off is on the list in the end.
func TestStepsOfEverySample(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/sheets/*.toml")
	require.NoError(t, err)
	tried := 0
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".toml")
		if strings.HasPrefix(name, "dial") {
			continue
		}
		tried++
		t.Run(name, func(t *testing.T) {
			s, steps, text := stepsOf(t, name, "dial")
			ids := map[string]bool{}
			for _, st := range steps {
				assert.False(t, ids[st.ID], st.ID)
				ids[st.ID] = true
				assert.NotEmpty(t, st.Do, st.ID)
			}
			last := 0
			for _, id := range []string{"specification", "make_safe", "plugs_out", "cable"} {
				at := index(t, steps, id)
				assert.True(t, last == 0 || at > last, id)
				last = at
			}
			gap, set := index(t, steps, "gap"), index(t, steps, "set")
			assert.Greater(t, set, gap)
			for _, c := range s.Engine.Cylinders {
				assert.Less(t, index(t, steps, "tdc/"+c+"/as_found"), index(t, steps, "measure/"+c+"/as_found"))
				assert.Less(t, index(t, steps, "measure/"+c+"/as_found"), gap)
				assert.Greater(t, index(t, steps, "measure/"+c+"/as_left"), set)
			}
			together := steps[index(t, steps, "put_together")].Do
			for _, st := range steps {
				for _, one := range st.Refit {
					assert.Contains(t, together, one)
				}
			}
			for _, caution := range []string{"fuel vapour burns", "take the cable off before the engine is kicked or cranked",
				"never a full turn of the crank with the dial in", "the nut on the crank may come loose", "the maker's manual"} {
				assert.Contains(t, flat(text), caution)
			}
			for line := range strings.Lines(text) {
				assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), Columns, line)
			}
		})
	}
	assert.Greater(t, tried, 5)
}

func TestStepsKnowTheEngine(t *testing.T) {
	_, _, half := stepsOf(t, "twin-half", "dial")
	for _, want := range []string{
		"make it safe: battery ignition", "take the coil lead off the points (upper coil, white lead, lower coil, green lead)",
		"find the compression stroke", "no opening? then this is the other TDC", "base plate first, for the set of cylinder front",
		"against the cam's rotation (anticlockwise, seen from the plate's side) is earlier",
		"set the dial to zero at TDC, counter and pointer on 0+00; at the mark they then show 2+40",
	} {
		assert.Contains(t, flat(half), want)
	}
	assert.NotContains(t, half, "magneto")

	s, steps, stays := stepsOf(t, "magneto", "dial-mark")
	require.Equal(t, sheet.StaysOn, s.Engine.SourceCoil)
	for _, want := range []string{"the source coil stays on the points", "clip the cable on: across the points", "set the dial to zero there: the mark", "turn the breaker plate until"} {
		assert.Contains(t, flat(stays), want)
	}
	assert.NotContains(t, flat(stays), "battery connected")
	assert.NotContains(t, flat(stays), "compression stroke", "the points of a two-stroke open at every TDC")
	assert.NotContains(t, steps[index(t, steps, "put_together")].Do, "source coil on the points", "it never came off")

	_, steps, held := stepsOf(t, "retard", "dial")
	assert.Contains(t, flat(held), "hold them with: two matchsticks between the weights and the hub")
	assert.Contains(t, steps[index(t, steps, "put_together")].Do, "taken out again, what holds the weights: two matchsticks between the weights and the hub")
	assert.Contains(t, flat(held), "or set a degree wheel by equal heights")
}

// The cable is off before the battery is on: what was done last is undone first.
func TestWhatWasDoneLastIsUndoneFirst(t *testing.T) {
	_, steps, _ := stepsOf(t, "twin-half", "dial")
	do := steps[index(t, steps, "put_together")].Do
	at := func(text string) int {
		return slices.IndexFunc(do, func(s string) bool { return strings.HasPrefix(s, text) })
	}
	assert.Less(t, at("dial out"), at("cable off"))
	assert.Less(t, at("cable off"), at("plugs in"))
	assert.Less(t, at("plugs in"), at("coil lead on"))
	assert.Less(t, at("coil lead on"), at("battery connected"))
}

func TestStepsNeedADialThatFollows(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	s.Setup.Dial.Preload = 2.05
	_, err = Steps(s)
	assert.ErrorContains(t, err, "press")
}
