package report

import (
	"fmt"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// series is the passes of a cylinder in a phase, and what makes their result uncertain.
type series struct {
	place
	Passes []pass
	Budget []part
	Whole  *part // all parts together; nil without a result
}

// pass is a line of the table of passes.
type pass struct {
	N       int
	Reading string
	First   string // what was typed at first; empty when it was not corrected
	// Closed and Open are the ends of the bracket and Middle its middle, as piston travel [mm before TDC]; empty where they
	// cannot be had. Of a reading taken after stopping only the middle is there: itself.
	Closed, Open, Middle string
	Opening              string
	Used                 string
}

// part is a line of the budget.
type part struct{ Name, U, Share, Shape, DF, Remedy string }

// unused is a reading that no result rests on.
type unused struct {
	place
	N            int
	Reading, Why string
}

// opening is an opening without a reading.
type opening struct {
	Take, ID int64
	Time     string
}

func newOpening(e session.Edge) opening { return opening{int64(e.Take), e.ID, number(e.TimeS, 4)} }

// tables lists the passes of all cylinders and phases.
func tables(j logbook.Journal, sheets session.Sheets, r session.Report) []series {
	typed := map[int64]string{}
	for _, e := range j.Entries {
		if d, ok := e.Data.(logbook.Reading); ok {
			typed[e.Seq] = d.Text
		}
	}
	var out []series
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			s := series{place: at(c.Name, ph.Phase)}
			for _, q := range ph.Passes {
				s.Passes = append(s.Passes, newPass(sheets.Setup, q, typed[q.Entry]))
			}
			s.budget(ph)
			out = append(out, s)
		}
	}
	return out
}

func newPass(setup timing.Setup, q session.Pass, typed string) pass {
	p := pass{N: q.N, Reading: q.Reading, Used: "used", Opening: "none heard"}
	if typed != q.Reading {
		p.First = typed
	}
	if q.Unused != "" {
		p.Used = "not used: " + q.Unused
	}
	if q.TravelMM != nil {
		p.Middle = number(*q.TravelMM, 3)
	}
	if closed, open, ok := bracket(setup, q.Reading); ok {
		p.Closed, p.Open = number(closed, 3), number(open, 3)
	}
	if e := q.Edge; e != nil {
		p.Opening = fmt.Sprintf("take %d, number %d, at %.4f s", e.Take, e.ID, e.TimeS)
		if e.Openings > 1 {
			p.Opening += fmt.Sprintf(", the first of %d in one approach", e.Openings)
		}
	}
	return p
}

// bracket returns the ends of a reading as piston travel [mm before TDC]; ok is false when it is no bracket or cannot be read.
func bracket(setup timing.Setup, text string) (closed, open float64, ok bool) {
	reading, err := setup.ParseReading(text)
	if err != nil || reading.None || !reading.Bracket {
		return 0, 0, false
	}
	var ends [2]timing.Length
	for i, l := range []timing.Length{reading.LastClosed, reading.FirstOpen} {
		end := reading
		end.LastClosed, end.FirstOpen = l, l
		if ends[i], err = setup.Travel(end); err != nil {
			return 0, 0, false
		}
	}
	return float64(ends[0]), float64(ends[1]), true
}

func (s *series) budget(ph session.Phase) {
	if ph.UncertaintyMM == nil {
		return
	}
	free := func(df *float64) string {
		if df == nil {
			return "known"
		}
		return number(*df, 1)
	}
	for _, c := range ph.Budget {
		s.Budget = append(s.Budget, part{c.Name, number(c.UMM, 4), session.Percent(c.Share), c.Shape, free(c.DF), c.Remedy})
	}
	s.Whole = &part{Name: "all together: root of the sum of squares", U: number(*ph.UncertaintyMM, 4), DF: free(ph.DF)}
}

// notUsed lists the readings that no result rests on.
func notUsed(r session.Report) []unused {
	var out []unused
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			for _, q := range ph.Passes {
				if q.Unused != "" {
					out = append(out, unused{at(c.Name, ph.Phase), q.N, q.Reading, q.Unused})
				}
			}
		}
	}
	return out
}
