package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// sample is a journal in the making.
type sample struct {
	j    logbook.Journal
	take int64
}

func sheetText(t testing.TB, name string) string {
	text, err := os.ReadFile("../../../testdata/sheets/" + name)
	require.NoError(t, err)
	return string(text)
}

// begun is the journal of an engine and a dial of the samples, with a take.
func begun(t testing.TB, engine, dial string) *sample {
	s := &sample{}
	s.add(logbook.Begin{
		Session: "2026-05-04-1011-barn", Name: "barn", Tool: "breakcue test", Engine: "Barn engine", EngineSheet: sheetText(t, engine),
		DialSheet: sheetText(t, dial), Input: "take.wav", SampleRate: 48000, Channels: 1, Frames: -1,
	})
	s.add(logbook.Take{Take: 1, File: "take-01.wav", SHA256: strings.Repeat("ab", 32)})
	return s
}

func (s *sample) add(d logbook.Data) int64 {
	seq := int64(len(s.j.Entries) + 1)
	at := time.Date(2026, 5, 4, 10, 11, 0, 0, time.FixedZone("", 2*3600)).Add(time.Duration(seq) * time.Second)
	s.j.Entries = append(s.j.Entries, logbook.Entry{Seq: seq, Time: at, Data: d})
	return seq
}

// opening adds one a second.
func (s *sample) opening() int64 {
	s.take++
	s.add(logbook.Opening{Edge: logbook.Edge{Take: 1, ID: s.take, Frame: 48000 * s.take, TimeS: float64(s.take), Uncertainty: 1e-5}})
	return s.take
}

// passes adds readings with an opening each, and returns the number of the first one's entry.
func (s *sample) passes(cylinder string, phase logbook.Phase, texts ...string) (first int64) {
	for _, text := range texts {
		opening := s.opening()
		seq := s.add(logbook.Reading{Text: text, Cylinder: cylinder, Phase: phase, Take: 1, Opening: opening})
		if first == 0 {
			first = seq
		}
	}
	return first
}

func raw(t testing.TB, v any) json.RawMessage {
	out, err := json.Marshal(v)
	require.NoError(t, err)
	return out
}

// page returns the record of the sample.
func (s *sample) page(t testing.TB) string {
	r, err := session.FromJournal(s.j)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, Write(&out, s.j, r))
	return out.String()
}

// twin is a whole job on two cylinders, with all that can be in a record.
func twin(t testing.TB) *sample {
	s := begun(t, "twin.toml", "dial.toml")
	first := s.passes("left", logbook.AsFound, "2.20/2.14", "2.18/2.15", "2.21/2.16")
	s.passes("right", logbook.AsFound, "1.83/1.78", "1.82/1.79", "-", "1.82/1.78")
	s.passes("left", logbook.AsLeft, "2.03/1.98", "2.01", "2.02/1.99")
	s.opening()
	s.add(logbook.Caveat{Code: "shop", Message: "a compressor ran all the time"})
	s.add(logbook.End{Reason: "finished"})
	s.add(logbook.Amend{Seq: first, Field: "text", From: raw(t, "2.20/2.14"), To: raw(t, "2.19/2.14"), Why: "mistyped", Who: "the apprentice"})
	s.add(logbook.Amend{Seq: first + 4, Field: "unusable", From: raw(t, ""), To: raw(t, "it was thrown away"), Why: "the dial slipped", Who: "the master"})
	return s
}

// hostile has in each text what could break a page.
func hostile(t testing.TB) *sample {
	const bad = "</title></style><script>alert(1)</script><img src=x onerror=alert(2)>\"'&amp;\u0000\u0007\u202e\u2066\ufffe\r\n שלום"
	s := begun(t, "twin.toml", "dial.toml")
	b := s.j.Entries[0].Data.(logbook.Begin)
	b.Session, b.Name, b.Tool, b.Engine, b.Input = "\"; } body { display: none } "+bad, bad, bad, bad, bad
	s.j.Entries[0].Data = b
	s.add(logbook.Take{Take: 1, File: bad, SHA256: bad})
	first := s.passes("left", logbook.AsFound, "2.03/1.98", bad, strings.Repeat("W", 3000))
	s.passes(bad, logbook.AsLeft, "2.03/1.98", "2.02/1.98")
	s.passes(bad+"2", logbook.Phase(bad), "2.03/1.98", "2.02/1.98")
	for i := range 200 {
		s.add(logbook.Caveat{Code: bad, Message: fmt.Sprint(bad, i)})
	}
	s.add(logbook.Amend{Seq: first, Field: "text", From: raw(t, bad), To: raw(t, bad), Why: bad, Who: bad})
	s.add(logbook.Amend{Seq: 99999, Field: bad, From: json.RawMessage("{"), Why: bad, Who: bad})
	s.add(logbook.Step{Step: bad, State: logbook.StepDone})
	s.add(logbook.Tick{Step: bad, Item: bad})
	s.add(logbook.End{Reason: bad})
	return s
}

// long has thousands of passes.
func long(t testing.TB) *sample {
	s := begun(t, "twin.toml", "dial.toml")
	for i := range 5000 {
		s.passes("left", logbook.AsFound, fmt.Sprintf("%.2f/%.2f", 2.03+0.01*float64(i%7), 2.00+0.01*float64(i%7)))
	}
	return s
}

// refit is what must be put back before the engine of a sample runs.
func refit(t testing.TB, s *sample) []string {
	sheets, err := session.SheetsOf(s.j)
	require.NoError(t, err)
	steps, err := session.Steps(sheets)
	require.NoError(t, err)
	at := slices.IndexFunc(steps, func(st session.Step) bool { return st.Work == session.ByTick })
	require.GreaterOrEqual(t, at, 0)
	return steps[at].Do
}

// guided is a session with a guide that did not come to its end.
func guided(t testing.TB) *sample {
	s := begun(t, "twin.toml", "dial.toml")
	s.add(logbook.Step{Step: "specification", State: logbook.StepBegun})
	s.add(logbook.Step{Step: "specification", State: logbook.StepDone})
	s.add(logbook.Step{Step: "gap", State: logbook.StepSkipped})
	s.add(logbook.Step{Step: "measure/left/as_left", State: logbook.StepBegun})
	s.passes("left", logbook.AsLeft, "2.03/1.98", "2.02/1.99")
	s.add(logbook.Step{Step: "set", State: logbook.StepBegun})
	s.opening()
	s.add(logbook.Step{Step: "put_together", State: logbook.StepBegun})
	s.add(logbook.Tick{Step: "put_together", Item: refit(t, s)[0]})
	return s
}

// samples are journals of every kind, by name.
func samples(t testing.TB) map[string]string {
	empty := begun(t, "twin.toml", "dial.toml")
	zeroedAtMark := begun(t, "twin.toml", "dial-mark.toml")
	zeroedAtMark.passes("left", logbook.AsFound, "0.12/0.08", "0.11", "abc")
	leaning := begun(t, "single.toml", "dial-inclined.toml")
	leaning.passes("only", logbook.AsLeft, "2.50/2.46", "2.51/2.48")
	one := begun(t, "four.toml", "dial-inch.toml")
	one.passes("1", logbook.AsFound, "0.030")
	return map[string]string{
		"twin": twin(t).page(t), "hostile": hostile(t).page(t), "long": long(t).page(t), "guided": guided(t).page(t), "empty": empty.page(t),
		"mark": zeroedAtMark.page(t), "leaning": leaning.page(t), "one pass": one.page(t),
	}
}
