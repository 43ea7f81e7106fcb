package handturn

import (
	"fmt"
	"io"
)

// write prints the tables, with what is aimed at beside the figures.
func (s study) write(w io.Writer) {
	p := func(format string, args ...any) { fmt.Fprintf(w, format, args...) }
	p("\nDoes the stated 95 %% interval hold the mean true travel? %d simulated settings a line;\n", s.main[0].settings)
	p("in the tables of power and of other populations %d, of single scatters %d. Scatter lognormal, median %g°, geometric sd %g.\n",
		s.power[0].settings, s.given[0][0].settings, typical.Median, typical.Spread)
	s.writeMain(p)
	s.writeGiven(p)
	s.writeVerdicts(p)
	s.writeOthers(p)
}

type printf func(format string, args ...any)

func (s study) writeMain(p printf) {
	p("Width over that of the Bayes interval that knows the population, and over that of an oracle that knows each scatter: mean of the\n")
	p("ratios [their median; ratio of the mean widths]. The last columns show that these two intervals are right themselves.\n")
	p("%-30s %15s   %-23s %-23s %6s %6s\n", "", "holds [%]", "over Bayes", "over the oracle", "Bayes", "oracle")
	line := func(name string, t tally) {
		held := t.percent(t.held)
		p("%-30s %6.2f ± %4.2f    %.3f [%.3f; %.3f]    %.3f [%.3f; %.3f]  %6.2f %6.2f\n", name, held, t.standardError(held),
			mean(t.toBayes), median(t.toBayes), t.width/t.bayesWidth, mean(t.toOracle), median(t.toOracle), t.width/t.oracleWidth,
			t.percent(t.bayesHeld), t.percent(t.oracleHeld))
	}
	for i, c := range classes() {
		line(c.String(), s.main[i])
	}
	line("all", together(s.main))
	p("%-30s %-17s %s\n", "aimed at: each class", "  93.5-97", "at most 1.12")
	p("%-30s %-17s %s\n", "          all", "  94.5-96.5", "at most 1.12")
}

func (s study) writeGiven(p printf) {
	p("\nHow often it holds the truth [%%] where the scatter of single turns is:\n%-30s", "")
	for _, sigma := range givenSigmas {
		p(" %6.2f°", sigma)
	}
	p("\n")
	for i, c := range classes() {
		p("%-30s", c)
		for _, t := range s.given[i] {
			p(" %7.2f", t.percent(t.held))
		}
		p("\n")
	}
}

func (s study) writeVerdicts(p printf) {
	p("\nWrong verdicts \"in tolerance\" [%%] where the true error is exactly at an end of the tolerance, ±%g mm\n", tolerance)
	p("(aimed at: at most 5.5 each; one pass never proves it):\n")
	p("%-30s %8s %8s\n", "", "late", "early")
	for i, c := range repeatedClasses() {
		late, early := s.wrong[i][0], s.wrong[i][1]
		p("%-30s %8.2f %8.2f\n", c, late.percent(late.inTolerance), early.percent(early.inTolerance))
	}

	p("\nPower: verdicts \"in tolerance\" [%%] where the true error is 0, and what they would be with the Bayes interval:\n")
	for i, c := range powerClasses() {
		aim := ""
		if c.Mode == Brackets && !c.Inclined {
			aim = fmt.Sprintf("   aimed at: at least %d", map[int]int{3: 50, 8: 75}[c.Least])
		}
		t := s.power[i]
		p("%-30s %8.2f %8.2f%s\n", c, t.percent(t.inTolerance), t.percent(t.bayesInTolerance), aim)
	}
}

func (s study) writeOthers(p printf) {
	p("\nHow often it holds the truth [%%] in other populations, by their median scatter; n = 1+5: one pass, pooled with another\n")
	p("series of five (aimed at with four pooled degrees of freedom and more: 92.5-98):\n%-30s %4s", "", "df")
	for _, o := range others {
		p(" %6.2f°", o.Median)
	}
	p("\n")
	for i, c := range pooledClasses() {
		p("%-30s %4d", c, c.degrees())
		for _, t := range s.other[i] {
			p(" %7.2f", t.percent(t.held))
		}
		p("\n")
	}
}
