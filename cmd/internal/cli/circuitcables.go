package cli

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/cables"
)

// cableList is what circuit cables prints with --json.
type cableList struct {
	Schema string         `json:"schema"`
	Cables []cables.Cable `json:"cables"`
	Never  []string       `json:"never"`
	Order  string         `json:"order"`
	Level  string         `json:"level"`
}

func newCircuitCables(env Env) *cobra.Command {
	var drawing string
	var asJSON bool
	var names []string
	for _, c := range cables.All() {
		names = append(names, c.Name+"\t"+c.Title)
	}
	c := &cobra.Command{
		Use:   "cables [CABLE]",
		Short: "Show the recommended cables: parts, drawing, how to make and to test them, what never to connect",
		Long: `Show the recommended cables. Without CABLE, which one is for what, and what no cable may ever be connected to; with CABLE, its
parts with values, power and tolerance, its drawing, and step by step how it is made and tested.

CABLE is across (the points short the tone: works with a magneto too), in-line (the tone passes through the points), two-across or
two-in-line (two sets of points by the left and the right output).`,
		Example: `  breakcue circuit cables
  breakcue circuit cables across
  breakcue circuit cables across --drawing across.svg`,
		ValidArgs: names,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return exactArgs(1, "one CABLE")(c, args)
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			list := cableList{"breakcue.circuit-cables/1", cables.All(), cables.Never(), cables.Order, cables.Level}
			if len(args) == 1 {
				one, ok := cables.Named(args[0])
				if !ok {
					return fail(ExitUsage, "use across, in-line, two-across or two-in-line", "%q is no cable", args[0])
				}
				list.Cables = []cables.Cable{one}
			}
			if drawing != "" {
				if len(args) != 1 {
					return fail(ExitUsage, "name the cable, as in 'breakcue circuit cables across --drawing across.svg'", "--drawing needs one CABLE")
				}
				if !strings.HasSuffix(strings.ToLower(drawing), ".svg") {
					return fail(ExitUsage, "call it something.svg", "--drawing, got %q: only SVG is drawn", drawing)
				}
				if err := writePicture("--drawing", drawing, bytes.NewBufferString(list.Cables[0].SVG())); err != nil {
					return err
				}
				note(env, "%s is drawn", drawing)
			}
			if asJSON {
				return printJSON(env.Out, list)
			}
			var page bytes.Buffer
			if len(args) == 1 {
				list.printOne(&page)
			} else {
				list.print(&page)
			}
			_, err := page.WriteTo(env.Out)
			return err
		},
	}
	c.Flags().StringVar(&drawing, "drawing", "", "draw the cable to this SVG `FILE`, which must not be there yet")
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

// print tells which cable is for what.
func (l cableList) print(w io.Writer) {
	fmt.Fprintln(w, "the cables")
	for _, c := range l.Cables {
		told(w, "  ", "%s: %s; %s", c.Name, c.Title, c.Use)
	}
	fmt.Fprintln(w)
	l.caution(w)
	fmt.Fprintln(w)
	told(w, "", "'breakcue circuit cables across' shows one with its parts and its drawing; 'breakcue circuit' tells what it will do at an engine.")
}

// caution tells what no cable may be connected to.
func (l cableList) caution(w io.Writer) {
	fmt.Fprintln(w, "caution: never to be connected")
	for _, n := range l.Never {
		told(w, "  ", "- %s", n)
	}
	told(w, "", "%s", l.Order)
}

// printOne shows one cable whole.
func (l cableList) printOne(w io.Writer) {
	c := l.Cables[0]
	told(w, "", "cable %s: %s", c.Title, c.Use)
	fmt.Fprintln(w)
	for _, line := range c.Text {
		fmt.Fprintln(w, "  "+line)
	}
	fmt.Fprintln(w)
	fmt.Fprintln(w, "parts")
	for _, p := range c.Parts {
		mark := ""
		if p.Mark != "" {
			mark = p.Mark + ": "
		}
		told(w, "  ", "%s%s - %s", mark, p.What, p.Why)
	}
	for _, list := range []struct {
		head  string
		steps []string
	}{{"to make it", c.Make}, {"to test it", c.Try}} {
		fmt.Fprintln(w)
		fmt.Fprintln(w, list.head)
		for i, s := range list.steps {
			told(w, "  ", "%d. %s", i+1, s)
		}
	}
	fmt.Fprintln(w)
	told(w, "", "%s", l.Level)
	fmt.Fprintln(w)
	l.caution(w)
}
