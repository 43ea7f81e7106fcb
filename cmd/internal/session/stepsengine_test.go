package session

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/sheet"
)

func TestStepsKnowTheEngine(t *testing.T) {
	_, steps, half := stepsOf(t, "twin-half", "dial")
	for _, want := range []string{
		"make it safe: battery ignition", "take the coil lead off the points: upper coil, white lead", "mark each coil lead",
		"which points are whose: cylinder rear: set 2, own plate; lower coil, green lead",
		"the crank turns clockwise, the cam anticlockwise: see that they do",
		"find the compression stroke", "at the other TDC the points do not open", "no opening at all? the other TDC: dial out",
		"base plate first, for cylinder front: it moves all sets", "turn it slowly clockwise, against the cam, until the screen just says points open",
		"set the dial to zero at TDC, counter and pointer on 0+00", "at the mark it must then show 2+40",
		"turn the cam against its springs and let it go", "how far the cylinders may lie apart: 0.1 mm", "look at the difference between the cylinders: 0.1 mm at most",
	} {
		assert.Contains(t, flat(half), want)
	}
	assert.NotContains(t, half, "magneto")
	assert.Equal(t, -1, slices.IndexFunc(steps, func(s Step) bool { return s.ID == "hold_weights" }), "nothing is to be held")

	s, steps, stays := stepsOf(t, "magneto", "dial-mark")
	require.Equal(t, sheet.StaysOn, s.Engine.SourceCoil)
	for _, want := range []string{"the source coil stays on the points: wire the cable across", "clip the cable on, across the points",
		"come forward to just 1.70 mm: the mark", "set the dial to zero there", "turn the breaker plate clockwise, with the cam",
		"the stop switch stays open for as long as the cable is on", "try the stop switch at once"} {
		assert.Contains(t, flat(stays), want)
	}
	for _, not := range []string{"battery connected", "charger", "compression stroke", "other TDC", "springs", "difference between the cylinders", "base plate", "each lobe", "plugs", "lie apart"} {
		assert.NotContains(t, flat(stays), not)
	}
	assert.NotContains(t, steps[index(t, steps, "put_together")].Do, "source coil on the points", "it never came off")

	_, steps, held := stepsOf(t, "retard", "dial")
	assert.Contains(t, flat(held), "hold them with: two matchsticks between the weights and the hub")
	assert.Contains(t, steps[index(t, steps, "put_together")].Do, "taken out again, what holds the weights: two matchsticks between the weights and the hub")
	assert.Contains(t, steps[index(t, steps, "put_together")].Do, "source coil on the points")
	assert.Contains(t, flat(held), "or put a degree wheel on, set by equal heights")
	assert.Contains(t, flat(held), "see that the weights are still held at full travel, the same way as before")
	assert.NotContains(t, flat(held), "where it cannot come off", "the sheet says that it does")
	assert.Less(t, index(t, steps, "hold_weights"), index(t, steps, "measure/only/as_found"), "held as found too")

	_, _, twins := stepsOf(t, "twin", "dial-inch")
	for _, want := range []string{"battery ignition: switch the ignition off", "magneto: open the stop switch", "magneto: where it cannot come off: wire the cable across",
		"in line, or across where a source coil stays on"} {
		assert.Contains(t, flat(twins), want, "the sheet does not say which ignition it is")
	}
}

// Four evenly spaced lobes of a half-speed cam open the points at each half turn of the crank, so at the other TDC of a cylinder
// too (arithmetic: 720° over 4); the points of a cylinder's own lobe do not open there.
func TestTheOtherTDC(t *testing.T) {
	_, _, four := stepsOf(t, "four", "dial")
	assert.Contains(t, flat(four), "at the other TDC the points may open too, for another cylinder")
	assert.NotContains(t, flat(four), "no opening at all?")
	assert.NotContains(t, flat(four), "the points do not open")
	assert.Contains(t, flat(four), "the same at each lobe of the cam")
	assert.Contains(t, flat(four), "cylinders that share points and lie apart")
	assert.NotContains(t, flat(four), "the same for each set")

	// Three lobes do not: 360° is one and a half times the 240° from one to the next.
	engine, err := os.ReadFile("../../../testdata/sheets/four.toml")
	require.NoError(t, err)
	scale, err := os.ReadFile(dial)
	require.NoError(t, err)
	s, err := ParseSheets("three", strings.Replace(string(engine), `["1", "3", "4", "2"]`, `["1", "2", "3"]`, 1), "dial", string(scale))
	require.NoError(t, err)
	steps, err := Steps(s)
	require.NoError(t, err)
	assert.Contains(t, steps[index(t, steps, "tdc/1/as_found")].Do[1], "at the other TDC the points do not open")
}

// Two sets for four cylinders: each cylinder has the points of its turn.
func TestSetsThatAreShared(t *testing.T) {
	engine, err := os.ReadFile("../../../testdata/sheets/four.toml")
	require.NoError(t, err)
	scale, err := os.ReadFile(dial)
	require.NoError(t, err)
	text := strings.Replace(string(engine), "sets = 1", "sets = 2", 1)
	text = strings.Replace(text, `["the only coil, thin lead to the breaker"]`, `["red", "blue"]`, 1)
	s, err := ParseSheets("four", text, "dial", string(scale))
	require.NoError(t, err)
	steps, err := Steps(s)
	require.NoError(t, err)
	see := func(cylinder string) string { return steps[index(t, steps, "measure/"+cylinder+"/as_found")].Do[0] }
	assert.Equal(t, "see that the cable is on the points of cylinders 1, 4 (set 1, base plate; red)", see("4"))
	assert.Equal(t, "see that the cable is on the points of cylinders 3, 2 (set 2, own plate; blue)", see("2"))
	index(t, steps, "clip/3/as_found")
	index(t, steps, "clip/4/as_found")
}

// What is to be typed is shown as this dial shows it, and is taken so; forwards the travel before TDC grows smaller.
func TestTheExampleCanBeTyped(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, _ string) {
		const typed = "type the last reading with the points closed and the first with them open, as "
		for _, st := range steps {
			for _, do := range st.Do {
				example, ok := strings.CutPrefix(do, typed)
				if !ok {
					continue
				}
				got, err := s.Setup.ParseReading(example)
				require.NoError(t, err)
				// Five graduations, each face rounded to a tenth of one.
				assert.InDelta(t, float64(5*s.Setup.Dial.Graduation), float64(got.Width()), 0.11*float64(s.Setup.Dial.Graduation), example)
			}
		}
	})
}

// The cable is off before the battery is on, and tools are counted before the cover goes on, which goes over the coil's lead: what was
// done last is undone first.
func TestWhatWasDoneLastIsUndoneFirst(t *testing.T) {
	for _, engine := range []string{"twin-half", "retard", "single"} {
		_, steps, _ := stepsOf(t, engine, "dial")
		do := steps[index(t, steps, "put_together")].Do
		last := -1
		for _, begin := range []string{"dial out", "cable off", "taken out again, what holds", "tools and rags", "crank turned by hand",
			"plug", "coil lead on", "source coil on", "cover on", "stop switch", "battery connected"} {
			at := slices.IndexFunc(do, func(s string) bool { return strings.HasPrefix(s, begin) })
			if at < 0 {
				continue
			}
			assert.Greater(t, at, last, begin)
			last = at
		}
		assert.Equal(t, len(do)-1, last, "what makes the engine live comes last")
	}
}

func TestStepsNeedADialThatFollows(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	s.Setup.Dial.Preload = 2.05
	_, err = Steps(s)
	assert.ErrorContains(t, err, "press")
}

// What the points are set at is what they are measured at: the cam where the advance has it, and the top dead centre of the cylinder.
func TestSetAsItIsMeasured(t *testing.T) {
	for engine, want := range map[string]int{"twin-half": 2, "retard": 1, "four": 1, "twin": 0} {
		s, steps, _ := stepsOf(t, engine, "dial")
		settles := 0
		for _, do := range steps[index(t, steps, "set")].Do {
			switch {
			case strings.HasPrefix(do, "see that the weights"), strings.HasPrefix(do, "turn the cam against its springs"):
				settles++
			case strings.HasPrefix(do, "hold ") && want > 0:
				assert.Positive(t, settles, "before the piston is at the mark")
			case strings.HasPrefix(do, "dial out, to cylinder"), strings.HasPrefix(do, "take the dial out"):
				assert.Equal(t, s.Engine.Breaker.CamRatio == 0.5, strings.Contains(do, "compression stroke"), do)
			}
		}
		assert.Equal(t, want, settles, "once for each plate of %s", engine)
	}
}

// A lead that is off already cannot be told from the other.
func TestLeadsAreMarkedBeforeTheyComeOff(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, _ string) {
		do := steps[index(t, steps, "make_safe")].Do
		at := func(text string) int {
			return slices.IndexFunc(do, func(s string) bool { return strings.Contains(s, text) })
		}
		if mark := at("mark each coil lead"); s.Engine.Breaker.Sets > 1 && s.Engine.Ignition != sheet.Magneto {
			assert.Less(t, at("switch the ignition off"), mark)
			assert.Less(t, at("disconnect the battery"), mark)
			assert.Greater(t, at("take the coil lead off"), mark)
		} else {
			assert.Negative(t, mark)
		}
	})
}
