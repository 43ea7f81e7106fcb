package session

import (
	"bytes"
	"path/filepath"
	"regexp"
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

// everySample tries each engine of the sample sheets with each dial.
func everySample(t *testing.T, try func(t *testing.T, s Sheets, steps []Step, text string)) {
	files, err := filepath.Glob("../../../testdata/sheets/*.toml")
	require.NoError(t, err)
	var engines, dials []string
	for _, file := range files {
		if name := strings.TrimSuffix(filepath.Base(file), ".toml"); strings.HasPrefix(name, "dial") {
			dials = append(dials, name)
		} else {
			engines = append(engines, name)
		}
	}
	assert.Greater(t, len(engines), 5)
	assert.Greater(t, len(dials), 2)
	for _, engine := range engines {
		for _, scale := range dials {
			t.Run(engine+" "+scale, func(t *testing.T) {
				s, steps, text := stepsOf(t, engine, scale)
				try(t, s, steps, text)
			})
		}
	}
}

// Whatever the engine, the order is that of the trade (common practice): safe before open, everything as found before
// anything is moved, the gap before the timing, TDC anew in between, as left after it.
func TestOrderOfTheSteps(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, text string) {
		ids := map[string]bool{}
		for _, st := range steps {
			assert.False(t, ids[st.ID], st.ID)
			ids[st.ID] = true
			assert.NotEmpty(t, st.Title, st.ID)
			assert.NotEmpty(t, st.Do, st.ID)
			assert.NotNil(t, st.Care, st.ID)
			assert.NotNil(t, st.Refit, st.ID)
		}
		order := []string{"specification", "make_safe", "plugs_out", "cable"}
		for _, c := range s.Engine.Cylinders {
			order = append(order, "tdc/"+c+"/as_found", "measure/"+c+"/as_found")
		}
		first := s.Engine.Cylinders[0]
		order = append(order, "gap_found", "gap", "tdc/"+first+"/as_left", "set", "measure/"+first+"/as_left")
		for _, c := range s.Engine.Cylinders[1:] {
			order = append(order, "tdc/"+c+"/as_left", "measure/"+c+"/as_left")
		}
		order = append(order, "put_together", "start")
		for i := 1; i < len(order); i++ {
			assert.Less(t, index(t, steps, order[i-1]), index(t, steps, order[i]))
		}
		assert.Equal(t, "specification", steps[0].ID)
		assert.Equal(t, "start", steps[len(steps)-1].ID)
		for _, caution := range []string{"fuel vapour burns", "take the cable off before the engine is kicked or cranked",
			noFullTurn, looseNut, "the maker's manual, local codes and licensed practice come before", "carbon monoxide"} {
			assert.Contains(t, flat(text), caution)
		}
	})
}

// An item is read on a small screen with dirty hands, one at a time: 110 characters are three to four rows of one that is 40
// columns wide. What a sheet says, such as the name of a coil, comes on top.
func TestItemsAreShort(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, text string) {
		own := append([]string{s.Engine.Hold}, s.Engine.Coils...)
		for _, st := range steps {
			assert.LessOrEqual(t, utf8.RuneCountInString(st.Title), 80, st.Title)
			for _, item := range slices.Concat(st.Care, st.Do) {
				short := item
				for _, words := range own {
					short = strings.ReplaceAll(short, words, "")
				}
				assert.LessOrEqual(t, utf8.RuneCountInString(short), 110, item)
				assert.NotContains(t, item, "\n")
				assert.False(t, strings.HasSuffix(item, ".") || strings.Contains(item, ". "), "one thing an item: %s", item)
				assert.NotContains(t, item, "  ", item)
			}
		}
		for line := range strings.Lines(text) {
			assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), Columns, line)
		}
	})
}

// moving finds what takes something off the engine or puts something in; each leads to what becomes of it in the end.
var moving = regexp.MustCompile(`(^|: )(take|put|clip|hold|disconnect|loosen|hang|open the stop|uncouple|turn off|pull|try the feelers|wire)\b`)

var becomes = []struct{ do, refit, start string }{
	{do: "disconnect the battery", refit: "battery connected"},
	{do: "take the coil lead off the points", refit: "coil lead on the points"},
	{do: "open the stop switch", refit: "stop switch and its wire as they were"},
	{do: "take the source coil off", refit: "source coil on the points"},
	{do: "wire the cable across", refit: "cable off"},
	{do: "turn off the fuel", start: "fuel on"},
	{do: "take it out of gear or uncouple", start: "couple up again"},
	{do: "take the plug", refit: "plug"},
	{do: "take the cover off", refit: "cover on the points"},
	{do: "hold them with: ", refit: "taken out again, what holds the weights: "},
	{do: "hang a rag", refit: "rag off"},
	{do: "clip", refit: "cable off"},
	{do: "put the dial in", refit: "dial out, plug hole clear"},
	{do: "take the dial out", refit: "dial out, plug hole clear"},
	{do: "or put a degree wheel on", refit: "degree wheel and its pointer off"},
	{do: "try the feelers", refit: "feelers and card out"},
	{do: "pull a clean dry card", refit: "feelers and card out"},
	{do: "loosen", refit: "screws of every plate tight"},
	{do: "hold the piston"}, {do: "hold its piston"},
}

// All that any step takes off or puts in is on the list in the end.
func TestWhatIsMovedComesBack(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, _ string) {
		together := steps[index(t, steps, "put_together")]
		start := steps[index(t, steps, "start")].Do
		begins := func(text string) func(string) bool {
			return func(s string) bool { return strings.HasPrefix(s, text) }
		}
		for _, st := range steps[:index(t, steps, "put_together")] {
			for _, one := range st.Refit {
				assert.Contains(t, together.Do, one)
			}
			for _, do := range st.Do {
				if !moving.MatchString(do) {
					continue
				}
				known := false
				for _, b := range becomes {
					if !strings.Contains(do, b.do) {
						continue
					}
					known = true
					if b.refit != "" {
						assert.True(t, slices.ContainsFunc(together.Do, begins(b.refit)), "%s: %s", st.ID, do)
					}
					if b.start != "" {
						assert.True(t, slices.ContainsFunc(start, begins(b.start)), "%s: %s", st.ID, do)
					}
				}
				assert.True(t, known, "%s: %q takes something off or puts it in, and nothing tells what becomes of it", st.ID, do)
			}
		}
		for _, coil := range s.Engine.Coils {
			if s.Engine.Ignition == sheet.Battery {
				assert.Contains(t, together.Do, "coil lead on the points: "+coil)
			}
		}
		assert.Equal(t, ByTick, together.Work)
		assert.Contains(t, together.Do, "tools and rags counted: none is left in the engine")
		assert.Len(t, together.Do, len(slices.Compact(slices.Sorted(slices.Values(together.Do)))), "each once")
	})
}

// How a step is done is a contract with whoever shows it: readings are typed where something is measured, and nowhere else.
func TestHowStepsAreDone(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, _ string) {
		for _, st := range steps {
			kind, rest, _ := strings.Cut(st.ID, "/")
			want := ByList
			switch kind {
			case "measure":
				want = ByRead
			case "cable", "clip", "set":
				want = ByWatch
			case "put_together":
				want = ByTick
			}
			assert.Equal(t, want, st.Work, st.ID)
			assert.Equal(t, rest, strings.Trim(st.Place.Cylinder+"/"+string(st.Place.Phase), "/"), st.ID)
		}
	})
}

// Cautions stand where the danger is. What live points do: US Army TM 9-8000 (1985), ch. 15: they switch 4 to 5 A, the primary
// kicks to 200 V or more, the secondary to 20 kV. That a magneto makes hundreds of volts is common practice.
func TestCautionsWhereTheDangerIs(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, _ string) {
		care := func(id string) string { return strings.Join(steps[index(t, steps, id)].Care, "\n") }
		if s.Engine.Ignition != sheet.Magneto {
			for _, fact := range []string{"4 to 5 A", "200 V and more at the points", "20 kV at the plug"} {
				assert.Contains(t, care("make_safe"), fact)
			}
			assert.Contains(t, care("make_safe"), "a battery lead sparks when it comes off")
			assert.Contains(t, care("cable"), "battery stay off")
			assert.Contains(t, care("put_together"), "battery lead sparks")
		}
		if s.Engine.Ignition != sheet.Battery {
			assert.Contains(t, care("make_safe"), fastMagneto)
			assert.Contains(t, care("cable"), "stop switch stays open")
			for _, id := range []string{"cable", "gap_found", "gap"} { // where the crank goes all the way round with the cable on
				assert.Contains(t, care(id), fastMagneto)
			}
			assert.Contains(t, care("put_together"), "a magneto may fire at any turn")
		}
		assert.Contains(t, care("plugs_out"), "fuel vapour")
		assert.Contains(t, care("gap"), "a wider one opens earlier") // common practice
		assert.Contains(t, care("start"), "carbon monoxide")
		for _, st := range steps {
			kind, _, _ := strings.Cut(st.ID, "/")
			if kind == "tdc" || kind == "measure" || kind == "clip" || kind == "set" {
				assert.Contains(t, st.Care, noFullTurn, st.ID)
			}
		}
	})
}

// Between two places at which the crank is turned further than the dial follows, the dial comes out.
func TestTheDialComesOut(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, _ string) {
		in := ""
		for _, st := range steps {
			for _, do := range st.Do {
				switch {
				case strings.HasPrefix(do, "take the dial out"), strings.HasPrefix(do, "dial out"):
					assert.NotEmpty(t, in, "%s: it is in no plug hole", st.ID)
					if in = ""; strings.HasSuffix(do, "TDC anew, zero anew") {
						in = st.ID
					}
				case strings.HasPrefix(do, "put the dial in"):
					assert.Empty(t, in, st.ID)
					in = st.ID
				case strings.HasPrefix(do, "find the compression stroke"), strings.Contains(do, "full lift"):
					assert.Empty(t, in, "%s: %s", st.ID, do)
				}
			}
		}
		assert.Empty(t, in, "the list of what is put back has it out")
	})
}

// With several sets the cable is brought to the points of the cylinder that is measured, and with one it stays.
func TestTheCableIsOnThePointsThatAreMeasured(t *testing.T) {
	everySample(t, func(t *testing.T, s Sheets, steps []Step, text string) {
		sets := s.Engine.Breaker.Sets
		if sets == 1 {
			assert.NotContains(t, text, "the cable to the points of")
			assert.Equal(t, len(s.Engine.Cylinders) > 1, strings.Contains(flat(text), "the same points serve"))
			return
		}
		on := ""
		for _, st := range steps {
			for _, do := range st.Do {
				if at := strings.Index(do, "the points of "); strings.HasPrefix(do, "clip") && at >= 0 {
					on, _, _ = strings.Cut(do[at+len("the points of "):], ")")
				}
			}
			if st.Work == ByRead {
				assert.Contains(t, on, st.Place.Cylinder, st.ID)
				assert.Contains(t, st.Do[0], "see that the cable is on the points of "+on, st.ID)
			}
		}
	})
}
