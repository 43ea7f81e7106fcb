package leads

// conclude draws the conclusions from the steps made so far.
func conclude(c *Check) Result {
	r := Result{Wiring: c.opt.Wiring, WiringSource: "given", Findings: []Finding{}}
	for _, m := range c.done {
		if m != nil {
			r.Measures = append(r.Measures, *m)
		}
	}
	return r
}
