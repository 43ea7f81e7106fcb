package logbook

import (
	"fmt"
	"slices"
	"strings"
)

// Finding is something about a journal that whoever relies on it must know.
type Finding struct {
	Line int // of the file, counted from 1; 0 when it is about none
	What string
	// Note tells that nothing is wrong with the journal: an entry of a later version, a number that nothing has.
	Note bool
	// Damage tells that the line cannot be understood: Repair takes it out.
	Damage bool
}

// String names the line and says what was found.
func (f Finding) String() string {
	if f.Line == 0 {
		return f.What
	}
	return fmt.Sprintf("line %d: %s", f.Line, f.What)
}

// Check looks at every line of a journal that was read: whether it can be understood, whether the numbers rise, and whether
// what it refers to is there. Findings come in the order of the lines. Whether the recordings are there is not looked at.
func Check(j Journal) []Finding {
	c := checker{journal: j, takes: map[int]bool{}, openings: map[edgeKey]bool{}}
	for _, d := range j.Damaged {
		c.found = append(c.found, Finding{Line: d.Line, What: "damaged, " + d.Reason, Damage: true})
	}
	c.references()
	for i, e := range j.Entries {
		c.sequence(i, e)
		c.entry(i, e)
	}
	c.amendments()
	if _, ok := j.Begin(); !ok {
		c.found = append(c.found, Finding{What: "there is no beginning: without engine and dial nothing can be worked out"})
	}
	slices.SortStableFunc(c.found, func(a, b Finding) int { return a.Line - b.Line })
	return c.found
}

// Wrong returns how many findings are more than notes.
func Wrong(found []Finding) int {
	n := 0
	for _, f := range found {
		if !f.Note {
			n++
		}
	}
	return n
}

type edgeKey struct {
	take int
	id   int64
}

type checker struct {
	journal  Journal
	takes    map[int]bool
	openings map[edgeKey]bool
	last     int64 // number
	found    []Finding
}

func (c *checker) add(i int, note bool, format string, args ...any) {
	f := Finding{What: fmt.Sprintf(format, args...), Note: note}
	if i < len(c.journal.lines) {
		f.Line = c.journal.lines[i]
	}
	c.found = append(c.found, f)
}

// references gathers what other entries may name.
func (c *checker) references() {
	for _, e := range c.journal.Entries {
		switch d := e.Data.(type) {
		case Take:
			c.takes[d.Take] = true
		case Opening:
			c.openings[edgeKey{d.Take, d.ID}] = true
		}
	}
}

func (c *checker) sequence(i int, e Entry) {
	switch {
	case e.Seq == c.last:
		c.add(i, false, "entry %d, and so is the one before: a correction of it cannot tell which", e.Seq)
	case e.Seq < c.last:
		c.add(i, false, "entry %d comes after entry %d", e.Seq, c.last)
	case e.Seq > c.last+1+c.damagedBefore(i):
		// A write that failed and could not be taken back takes a number too: nothing need be missing.
		c.add(i, true, "no entry has a number from %d to %d: their writing failed, or they were taken out", c.last+1, e.Seq-1)
	}
	c.last = max(c.last, e.Seq)
}

// damagedBefore returns how many damaged lines stand between an entry and the one before it. Both come in the order of the file.
func (c *checker) damagedBefore(i int) int64 {
	after := func(line int) int {
		at, _ := slices.BinarySearchFunc(c.journal.Damaged, line, func(d DamagedLine, line int) int { return d.Line - line })
		return at
	}
	first := 0
	if i > 0 {
		first = after(c.journal.lines[i-1])
	}
	return int64(after(c.journal.lines[i]) - first)
}

func (c *checker) entry(i int, e Entry) {
	switch d := e.Data.(type) {
	case Begin:
		if i > 0 {
			c.add(i, false, "entry %d begins a session, but is not the first", e.Seq)
		}
	case Opening:
		c.take(i, "opening", d.Edge)
	case Closing:
		c.take(i, "closing", d.Edge)
	case Reading:
		if d.Opening != 0 && !c.openings[edgeKey{d.Take, d.Opening}] {
			c.add(i, false, "reading %q names opening %d of take %d, which is not in the journal", d.Text, d.Opening, d.Take)
		}
	case Gap:
		if d.Set < 1 || d.Phase != AsFound && d.Phase != AsLeft {
			c.add(i, false, "gap %q is of set %d, %q, want a set from 1 on, %s or %s", d.Text, d.Set, d.Phase, AsFound, AsLeft)
		}
	case Step:
		if d.State != StepBegun && d.State != StepDone && d.State != StepSkipped {
			c.add(i, false, "step %q has the state %q, want %s, %s or %s", d.Step, d.State, StepBegun, StepDone, StepSkipped)
		}
	case Other:
		c.add(i, true, "entry %d, %s %s, is of a later version: passed over", e.Seq, d.Schema, d.Name)
	}
}

func (c *checker) take(i int, what string, e Edge) {
	if !c.takes[e.Take] {
		c.add(i, false, "%s %d names take %d, which is not in the journal", what, e.ID, e.Take)
	}
}

// amendments reports corrections that cannot be applied, and those whose result names what is not there.
func (c *checker) amendments() {
	entries := slices.Clone(c.journal.Entries)
	c.journal.amend(entries, func(i int, err error) { c.add(i, false, "%s", strings.TrimPrefix(err.Error(), "logbook: ")) })
	for i, e := range entries {
		was, _ := c.journal.Entries[i].Data.(Reading)
		if r, ok := e.Data.(Reading); ok && (r.Opening != was.Opening || r.Take != was.Take) && r.Opening != 0 && !c.openings[edgeKey{r.Take, r.Opening}] {
			c.add(i, false, "reading %q was corrected to opening %d of take %d, which is not in the journal", r.Text, r.Opening, r.Take)
		}
	}
}
