package cli

import (
	"context"
	"fmt"
	"math"
	"strings"
	"unicode"

	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/pump"
)

// leadsScreen shows a check on the big screen.
type leadsScreen struct {
	*leadsRun
	shown cue.View
	from  int // the first line of the verdict that is shown
	next  int // the one after those shown; 0: there is none
}

func (l *leadsScreen) ends() bool { return false }

// key takes a key that was struck.
func (l *leadsScreen) key(context.Context) (key string, ok bool, err error) {
	for {
		select {
		case k := <-l.base.keys:
			switch {
			case k.Name == cue.Enter:
				return "", true, nil
			case k.Name == cue.Escape:
				return string(keyLeadsMore), true, nil
			case k.Name == cue.Rune && k.Rune == keyLeadsOn && l.verdict():
				l.from = l.next
				l.show()
			case k.Name == cue.Rune && unicode.IsPrint(k.Rune):
				return string(k.Rune), true, nil
			}
		default:
			return "", false, nil
		}
	}
}

// verdict tells that the verdict is read.
func (l *leadsScreen) verdict() bool { return l.guide.over() && !l.guide.more && l.out != nil }

func (l *leadsScreen) show() {
	if !l.verdict() {
		l.from = 0
	}
	if v := l.view(); v != l.shown {
		l.shown = v
		l.base.screen.Show(v)
	}
}

// What the keys do.
const (
	keysLeadsSafe    = "Enter: all of this is so  q: end"
	keysLeadsStep    = "Enter: measure  -: back  +: skip  *: all steps  q: end"
	keysLeadsWrong   = "Enter: measure again  +: go on as it is  -: back  *: all steps"
	keysLeadsBusy    = "-: leave off  q: end"
	keysLeadsMore    = "a digit: go there  *: close"
	keysLeadsVerdict = "Enter: end  -: back  *: any step again"
	keysLeadsPaged   = "Enter: end  +: more  -: back  *: steps"
)

// view is all that is to be seen now.
func (l *leadsScreen) view() cue.View {
	g := l.guide
	v := cue.View{Heading: l.flags.heading(l.card), Note: g.note, Bar: l.bar()}
	if l.flags.bench.on && !l.verdict() {
		v.Health = l.flags.bench.says(l.flags.made)
	}
	s, at := g.step()
	switch {
	case g.more:
		v.Keys = keysLeadsMore
		v.Page = cue.Page{Title: "which step?", Items: strings.Join(l.moreLines(), "\n"), Current: -1}
	case l.verdict():
		v.Keys, v.Page = keysLeadsPaged, l.verdictPage()
		if l.next = l.base.screen.Next(v); l.next == 0 && l.from == 0 {
			v.Keys = keysLeadsVerdict
		}
	case at:
		v.Page = l.stepPage(s)
		switch {
		case g.measuring:
			v.Keys = keysLeadsBusy
		case len(g.wrong()) > 0:
			v.Keys = keysLeadsWrong
		default:
			v.Keys = keysLeadsStep
		}
	default:
		v.Keys = keysLeadsSafe
		v.Page = cue.Page{Title: "make it safe", At: 1, Of: len(g.steps) + 1, Items: "! " + strings.Join(leadsCare, "\n! "), Current: -1}
	}
	return v
}

// stepPage lists all steps, the one at hand with what to do and what was wrong.
func (l *leadsScreen) stepPage(s leads.Step) cue.Page {
	g := l.guide
	p := cue.Page{Title: leadsTitle(s), At: g.at + 2, Of: len(g.steps) + 1}
	var lines []string
	for i, one := range g.steps {
		m, made := g.done[one]
		mark, text := "[ ] ", leadsTitle(one)
		switch {
		case made:
			mark = "[x] "
			text += ": " + l.flags.backWords(m.Power)
			if i == g.at {
				text = leadsTitle(one) + ", " + l.flags.backWords(m.Power)
			}
		case g.skipped[one]:
			mark = "[-] "
		}
		if i == g.at {
			p.Current = len(lines)
			if !made || g.measuring {
				mark = "[ ] "
			}
			text += ": " + leadsDo(one, l.check.Result().Wiring)
		}
		lines = append(lines, mark+text)
		if i == g.at {
			for _, f := range g.wrong() {
				lines = append(lines, "! "+f.Text+doWords(f))
			}
		}
	}
	p.Items = strings.Join(lines, "\n")
	return p
}

// verdictPage says what the check comes to.
func (l *leadsScreen) verdictPage() cue.Page {
	all := l.out.lines()
	p := cue.Page{Title: all[0].text, Current: -1, From: l.from}
	var lines []string
	for _, line := range all[1:] {
		mark := "- "
		if line.warns {
			mark = "! "
		}
		lines = append(lines, mark+line.text)
	}
	p.Items = strings.Join(lines, "\n")
	return p
}

// moreLines are the steps to choose from.
func (l *leadsRun) moreLines() (out []string) {
	g := l.guide
	for i, s := range g.steps {
		text := fmt.Sprintf("%d %s", i+1, leadsTitle(s))
		if m, made := g.done[s]; made {
			text += ": " + l.flags.backWords(m.Power)
		}
		out = append(out, text)
	}
	return append(out, "8 what it comes to", "9 end")
}

const (
	barCells  = 20
	barLowest = -90.0 // [dBFS]
)

// bar is the row at the top: how loud the tone comes back, or how far the measurement has come.
func (l *leadsScreen) bar() string {
	if l.guide.measuring {
		p := l.check.Progress()
		if l.pending {
			p = leads.Progress{Level: math.Inf(-1)}
		}
		text := "MEASURING, KEEP STILL  " + gauged(p.Part)
		if p.Clipping {
			text += "  TOO LOUD"
		}
		return text
	}
	part := (pump.DBFS(l.meter.Level) - barLowest) / -barLowest
	if !l.meter.Known {
		part = 0
	}
	return "COMES BACK  " + gauged(part) + "  " + l.hears()
}

// gauged is a part, 0..1, as a bar.
func gauged(part float64) string {
	n := int(math.Round(barCells * min(max(part, 0), 1)))
	return "[" + strings.Repeat("#", n) + strings.Repeat(".", barCells-n) + "]"
}

// heading says what runs, in one line.
func (f *leadsFlags) heading(card *opened) string {
	how := ""
	if f.live.wiring != "" {
		how = map[string]string{"series": ", in line", "shunt": ", across the points"}[f.live.wired.String()]
	}
	return fmt.Sprintf("check of the cable%s, tone at %.0f dBFS, %s", how, f.live.level, card.name)
}
