package cli

import (
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/session"
)

// leadsResult is what `leads --json` prints.
type leadsResult struct {
	Schema     string  `json:"schema"`
	Device     string  `json:"device"`
	SampleRate int     `json:"sample_rate"`
	Level      float64 `json:"level_dbfs"` // of what was played
	WillDo     bool    `json:"will_do"`    // closed can be told from open, and nothing speaks against it
	leads.Result
	File string `json:"profile_file,omitempty"` // where the profile is kept
	Next string `json:"next"`                   // the command to go on with

	named     bool // File is the one that --profile names
	practised bool // it was made at the bench
}

// willDo tells that a cable will do for the work.
func willDo(r leads.Result) bool {
	return r.Profile != nil && !slices.ContainsFunc(r.Findings, func(f leads.Finding) bool { return f.Severity == leads.Stop })
}

// bySeverity sorts findings, the gravest first; what is no warning stays in the order that it has.
func bySeverity(all []leads.Finding) []leads.Finding {
	rank := map[leads.Severity]int{leads.Stop: -2, leads.Warn: -1}
	out := slices.Clone(all)
	slices.SortStableFunc(out, func(a, b leads.Finding) int {
		return rank[a.Severity] - rank[b.Severity]
	})
	return out
}

// print writes the verdict for people.
func (r leadsResult) print(w io.Writer, columns int) {
	for _, line := range r.lines() {
		mark := ""
		if line.warns {
			mark = "! "
		}
		wrappedWithin(w, columns, line.indent, session.Printable(mark+line.text))
	}
}

// leadsLine is a sentence of the verdict.
type leadsLine struct {
	indent, text string
	warns        bool
}

// headline says in a few words what the check comes to.
func (r leadsResult) headline() string {
	switch {
	case r.WillDo && slices.ContainsFunc(r.Findings, func(f leads.Finding) bool { return f.Severity == leads.Warn }):
		return "the cable will do, with a warning"
	case r.WillDo:
		return "the cable will do"
	case len(r.missing()) > 0:
		return "the check is not whole: not measured were " + strings.Join(r.missing(), ", ")
	case r.Tone > 0:
		return "the cable will not do as it is"
	}
	return "closed cannot be told from open with this cable"
}

// missing names the steps that nothing can be told without, and that were not made.
func (r leadsResult) missing() (out []string) {
	for _, s := range []leads.Step{leads.Apart, leads.Together, leads.Closed, leads.Open} {
		if !slices.ContainsFunc(r.Measures, func(m leads.Measure) bool { return m.Step == s }) {
			out = append(out, leadsTitle(s))
		}
	}
	return out
}

// lines are the sentences of the verdict, the most important first.
func (r leadsResult) lines() (out []leadsLine) {
	out = append(out, leadsLine{text: r.headline()})
	for _, f := range bySeverity(r.Findings) {
		line := leadsLine{indent: "  ", text: f.Text + doWords(f)}
		if f.Severity == leads.Stop || f.Severity == leads.Warn {
			line.warns = true
		}
		out = append(out, line)
	}
	say := func(format string, args ...any) {
		out = append(out, leadsLine{indent: "  ", text: fmt.Sprintf(format, args...)})
	}
	if r.Wiring != leads.Unknown {
		say("the cable is wired %s", leadsWiring(r.Result))
	}
	if p := r.Profile; p != nil {
		say("points closed %s, points open %s, noise %s", loudness(cmplx.Abs(p.Closed.Value())), loudness(cmplx.Abs(p.Open.Value())), loudness(math.Sqrt2*p.Noise))
	}
	switch {
	case r.Next == "": // nothing that can be kept
	case r.named && r.File != "":
		say("kept in %s", r.File)
	case r.File != "":
		say("kept: 'breakcue listen' and 'breakcue session' go by it on this sound card")
	case r.practised:
		say("not kept: the bench is to practise; --profile FILE keeps it")
	}
	if r.Next != "" {
		say("go on with: %s", r.Next)
	}
	return out
}

// doWords says what to do about a finding, after its text.
func doWords(f leads.Finding) string {
	if f.Do == "" || f.Do == "nothing" {
		return ""
	}
	return "; " + f.Do
}
