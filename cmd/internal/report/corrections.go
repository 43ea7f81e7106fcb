package report

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// correction is one entry that corrects another.
type correction struct {
	When, Who, What, From, To, Why string
}

// corrections lists who changed what, in the order in which they were written.
func corrections(j logbook.Journal, r session.Report) []correction {
	passes := map[int64]string{}
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			for _, p := range ph.Passes {
				passes[p.Entry] = fmt.Sprintf("%s, %s, pass %d", c.Name, ph.Phase.Words(), p.N)
			}
		}
	}
	entries, _ := j.Current()
	gaps := map[int64]string{}
	for _, e := range entries {
		if g, ok := e.Data.(logbook.Gap); ok {
			gaps[e.Seq] = fmt.Sprintf("gap of set %d, %s (entry %d)", g.Set, g.Phase.Words(), e.Seq)
		}
	}
	var out []correction
	for _, e := range j.Entries {
		d, ok := e.Data.(logbook.Amend)
		if !ok {
			continue
		}
		c := correction{When: day(e.Time), Who: d.Who, Why: d.Why}
		c.From, c.To = apart(value(d.From), value(d.To))
		field := strings.ReplaceAll(d.Field, "_", " ")
		switch d.Field {
		case "unusable": // an empty one counts
			field, c.From, c.To = "whether it counts", counts(c.From), counts(c.To)
		case "text":
			field = "reading"
		}
		c.What = fmt.Sprintf("entry %d: %s", d.Seq, field)
		if g, ok := gaps[d.Seq]; ok {
			if d.Field == "text" {
				field = "as typed"
			}
			c.What = g + ": " + field
		}
		if p, ok := passes[d.Seq]; ok {
			c.What = fmt.Sprintf("%s (entry %d): %s", p, d.Seq, field)
		}
		out = append(out, c)
	}
	return out
}

func counts(unusable string) string {
	if unusable == "" {
		return "counts"
	}
	return "does not count: " + unusable
}

// value is what a field said: a text by itself, anything else as the journal has it.
func value(raw json.RawMessage) string {
	var text string
	if json.Unmarshal(raw, &text) == nil {
		return text
	}
	return string(raw)
}

// apart leaves of two long texts, which sheets are, only the lines that the other does not have. What is still too long is
// cut: the journal has it whole.
func apart(from, to string) (string, string) {
	const most = 600
	if a, b := strings.Split(from, "\n"), strings.Split(to, "\n"); len(a) > 1 && len(b) > 1 {
		from, to = strings.Join(without(a, b), "\n"), strings.Join(without(b, a), "\n")
	}
	return short(from, most), short(to, most)
}

func without(lines, others []string) []string {
	has := map[string]bool{}
	for _, l := range others {
		has[l] = true
	}
	return slices.DeleteFunc(slices.Clone(lines), func(l string) bool { return has[l] })
}
