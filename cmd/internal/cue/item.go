package cue

import "strings"

// item is one of the items of a page.
type item struct {
	mark string // what it begins with: "! ", "[ ] ", "[x] ", "[-] ", "- ", "1 "; empty: nothing
	text string // what follows
}

// items are the items of g in their order; Current is an index among them.
func (g Page) items() []item {
	if g.Items == "" {
		return nil
	}
	lines := strings.Split(strings.TrimRight(g.Items, "\n"), "\n")
	all := make([]item, len(lines))
	for i, line := range lines {
		all[i] = itemOf(clean(line))
	}
	return all
}

const (
	cautionMark = "! "
	openMark    = "[ ] "
	doneMark    = "[x] "
	skippedMark = "[-] "
	pointMark   = "- " // of a sentence among others
)

func itemOf(line string) item {
	for _, mark := range []string{cautionMark, openMark, doneMark, skippedMark, pointMark} {
		if text, ok := strings.CutPrefix(line, mark); ok {
			return item{mark, text}
		}
	}
	if len(line) >= 2 && line[0] >= '0' && line[0] <= '9' && line[1] == ' ' {
		return item{line[:2], line[2:]}
	}
	return item{text: line}
}

func (it item) caution() bool { return it.mark == cautionMark }

// rows breaks it into rows of up to width columns. All but the first are indented by as much as the mark takes.
func (it item) rows(width int) []string {
	indent := len(it.mark)
	if width-indent < 4 { // no room for an indent
		return wrap(it.mark+it.text, width)
	}
	rows := wrap(it.text, width-indent)
	if len(rows) == 0 {
		return []string{strings.TrimRight(it.mark, " ")}
	}
	for i := range rows {
		if i == 0 {
			rows[i] = it.mark + rows[i]
		} else {
			rows[i] = strings.Repeat(" ", indent) + rows[i]
		}
	}
	return rows
}
