package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"breakcue/cmd/internal/leads"
)

// press gives keys to a guide and measures what it asks for, with the findings given for each step.
func (g *leadsGuide) press(keys string, wrong map[leads.Step][]leads.Finding) (ended bool) {
	for _, k := range keys {
		key := string(k)
		if k == '\r' {
			key = ""
		}
		deed, _ := g.key(key)
		if deed == leadsEnd {
			return true
		}
		if s, at := g.step(); deed == leadsBegin && at {
			var all []leads.Finding
			for _, one := range g.steps {
				if _, made := g.done[one]; made || one == s {
					all = append(all, wrong[one]...)
				}
			}
			g.measured(s, leads.Measure{Step: s}, all)
		}
	}
	return false
}

func TestTheGuideOfACheck(t *testing.T) {
	alike := map[leads.Step][]leads.Finding{leads.Together: {{Code: "alike", Severity: leads.Stop}, {Code: "gain", Severity: leads.OK}}}
	for name, c := range map[string]struct {
		keys  string
		stays bool
		wrong map[leads.Step][]leads.Finding
		at    int
		ended bool
	}{
		"nothing":                        {"", true, nil, -1, false},
		"safe":                           {"\r", true, nil, 0, false},
		"no way back from the first":     {"--", true, nil, -1, false},
		"all":                            {"\r\r\r\r\r", true, nil, 4, false},
		"the verdict was read":           {"\r\r\r\r\r\r", true, nil, 4, true},
		"skipped, then the verdict":      {"\r++++", true, nil, 4, false},
		"nothing after the verdict":      {"\r+++++", true, nil, 4, false},
		"back from the verdict":          {"\r++++-", true, nil, 3, false},
		"one again, then the verdict":    {"\r\r\r\r\r*2\r", true, nil, 4, false},
		"one skipped, from the list":     {"\r\r+\r\r*2\r", true, nil, 4, false},
		"the list is closed":             {"\r\r**", true, nil, 1, false},
		"the list is closed by Enter":    {"\r\r*\r", true, nil, 1, false},
		"no such step":                   {"\r\r*7", true, nil, 1, false},
		"the verdict, from the list":     {"\r*8", true, nil, 4, false},
		"the end, from the list":         {"\r*9", true, nil, 0, true},
		"q":                              {"\r\rq", true, nil, 1, true},
		"q in the list":                  {"\r\r*q", true, nil, 1, true},
		"wrong: it stays":                {"\r\r\r", true, alike, 1, false},
		"wrong again: it stays":          {"\r\r\r\r", true, alike, 1, false},
		"wrong: on all the same":         {"\r\r\r+", true, alike, 2, false},
		"wrong, and nobody is there":     {"\r\r\r", false, alike, 2, false},
		"what was told is told once":     {"\r\r\r+\r", true, alike, 3, false},
		"a letter that means nothing":    {"\rz", true, nil, 0, false},
		"a digit outside of the list":    {"\r3", true, nil, 0, false},
		"a step that was made stays so":  {"\r\r-+", true, nil, 1, false},
		"the first one, after all other": {"\r+\r\r\r-*1\r", true, nil, 4, false},
	} {
		g := newLeadsGuide(false, c.stays)
		assert.Equal(t, c.ended, g.press(c.keys, c.wrong), name)
		assert.Equal(t, c.at, g.at, name)
	}
	g := newLeadsGuide(true, true)
	g.press("\r\r\r\r\r\r", nil)
	assert.Equal(t, []leads.Step{leads.Apart, leads.Together, leads.Known, leads.Closed, leads.Open}, g.order)
	g = newLeadsGuide(false, true)
	g.press("\r\r-+", nil)
	assert.False(t, g.skipped[leads.Apart], "it was measured")
}

// While a step is measured only what leaves off does something.
func TestKeysWhileAStepIsMeasured(t *testing.T) {
	g := newLeadsGuide(false, true)
	g.key("")
	deed, ok := g.key("")
	assert.Equal(t, leadsBegin, deed)
	assert.True(t, ok)
	for _, key := range []string{"", "+", "*", "1", "x"} {
		deed, _ = g.key(key)
		assert.Equal(t, leadsNothing, deed, key)
		assert.True(t, g.measuring, key)
	}
	deed, _ = g.key("-")
	assert.Equal(t, leadsCancel, deed)
	assert.False(t, g.measuring)
	assert.Equal(t, 0, g.at)
}

// Whatever is pressed, the guide stands somewhere, and Enter alone gets from there to the end.
func TestAnyKeysOfACheck(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		g := newLeadsGuide(rapid.Bool().Draw(r, "resistor"), rapid.Bool().Draw(r, "stays"))
		for _, key := range rapid.SliceOf(rapid.SampledFrom([]string{"\r", "+", "-", "*", "1", "4", "8", "é", "x"})).Draw(r, "keys") {
			if g.press(key, nil) {
				return
			}
			assert.GreaterOrEqual(r, g.at, -1)
			assert.LessOrEqual(r, g.at, len(g.steps))
		}
		assert.True(r, g.press("\r\r\r\r\r\r\r\r\r", nil))
	})
}
