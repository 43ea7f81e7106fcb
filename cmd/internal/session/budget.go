package session

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"breakcue/timing"
)

// Component is one line of an uncertainty budget.
type Component struct {
	Name  string  `json:"name"`
	UMM   float64 `json:"uncertainty_mm"` // standard uncertainty [mm of travel]
	Shape string  `json:"shape"`          // normal or rectangular
	// DF is null where the uncertainty is taken as known.
	DF     *float64 `json:"degrees_of_freedom"`
	Share  float64  `json:"share"` // of the squared uncertainty, 0..1
	Remedy string   `json:"remedy"`
}

// newBudget returns the components of a result, the largest first.
func newBudget(r timing.Result) []Component {
	out := []Component{}
	for _, part := range r.Budget {
		c := Component{Name: part.Name, UMM: part.U, Shape: part.Shape.String(), Remedy: part.Remedy}
		if r.Error.U > 0 {
			share := part.U / float64(r.Error.U)
			c.Share = share * share
		}
		if !math.IsInf(part.DF, 1) {
			c.DF = &part.DF
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(x, y Component) int { return -cmp.Compare(x.UMM, y.UMM) })
	return out
}

// largest returns the largest part of the uncertainty that more passes do not lessen.
func (ph Phase) largest() Component {
	for _, c := range ph.Budget {
		if c.DF == nil {
			return c
		}
	}
	return Component{}
}

// scatters tells that the scatter of the passes would be most of the uncertainty even with as many passes as anyone makes.
func (ph Phase) scatters() bool {
	var scatter, rest float64 // squared
	for _, c := range ph.Budget {
		if c.DF == nil {
			rest += c.UMM * c.UMM
		} else {
			scatter += c.UMM * c.UMM
		}
	}
	return scatter*float64(ph.N)/timing.MostPasses > rest
}

// budget prints what makes a result uncertain: a line for each part, its standard uncertainty and its degrees of freedom,
// then what would make the largest smaller.
func (p *printer) budget(ph Phase) {
	if len(ph.Budget) == 0 {
		return
	}
	var b strings.Builder
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprint(tw, "  uncertain because of\tuncertainty\tshare\tshape\tfreedom\n")
	row := func(name string, mm float64, share, shape string, df *float64) {
		free := "known"
		if df != nil {
			free = fmt.Sprintf("%.1f", *df)
		}
		fmt.Fprintf(tw, "  %s\t%.4f mm\t%s\t%s\t%s\n", name, mm, share, shape, free)
	}
	for _, c := range ph.Budget {
		row(c.Name, c.UMM, Percent(c.Share), c.Shape, c.DF)
	}
	row("all together", *ph.UncertaintyMM, "", "", ph.DF)
	tw.Flush()
	for text := range strings.Lines(b.String()) {
		p.line("%s", strings.TrimRight(text, " \n"))
	}
	top := ph.Budget[0]
	p.sentence("  ", "the largest part is %s; what makes it smaller: %s", top.Name, top.Remedy)
}
