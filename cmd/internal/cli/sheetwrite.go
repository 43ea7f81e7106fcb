package cli

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"breakcue/timing/sheet"
)

// text returns the sheet as far as the questions go.
func (in *interview) text(asked []sheetQuestion) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# %s sheet, written by breakcue. Change it with any text editor; \"breakcue sheet check\" checks it.\n",
		map[sheet.Kind]string{sheet.EngineSheet: "Engine", sheet.DialSheet: "Dial"}[in.kind])
	table := ""
	for i := 0; i < len(asked); i++ {
		q := asked[i]
		answer := in.answers[q.id]
		if q.form == asHelper || q.form == asCount || answer == "" {
			continue
		}
		key, value := q.id, answer
		switch q.form {
		case asWhole, asChosenN:
		case asListed:
			var list []string
			key, _ = cutLast(q.id)
			for ; i < len(asked) && asked[i].form == asListed; i++ {
				if name, _ := cutLast(asked[i].id); name != key {
					break
				}
				list = append(list, in.answers[asked[i].id])
			}
			i--
			if len(list) < q.of {
				continue
			}
			value = encoded(list)
		default:
			value = encoded(answer)
		}
		if before, after, ok := strings.Cut(key, "."); ok {
			if before != table {
				table = before
				fmt.Fprintf(&b, "\n[%s]\n", table)
			}
			key = after
		}
		fmt.Fprintf(&b, "%s = %s", key, value)
		if q.comment != "" {
			fmt.Fprintf(&b, " # %s", q.comment)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// cutLast cuts a key at its last dot.
func cutLast(id string) (before, after string) {
	at := strings.LastIndex(id, ".")
	return id[:at], id[at+1:]
}

// encoded returns a text, or a list of them, as TOML has it.
func encoded(v any) string {
	var b bytes.Buffer
	if err := toml.NewEncoder(&b).Encode(map[string]any{"v": v}); err != nil {
		return `""` // what is no UTF-8, which no sheet takes either
	}
	return strings.TrimSpace(strings.TrimPrefix(b.String(), "v = "))
}
