// Command grid writes, into the folder that it is given, a list of circuits (cases.csv) and a netlist of them for ngspice (grid.cir).
//
// The netlist is written from what is soldered to what, and knows nothing of the package that is checked by it. The README of the
// folder above says how it is run.
package main

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
)

// circuit is one cable with what it is on, at one tone. Zero values are parts that are not there; far may be infinite.
type circuit struct {
	across                                            bool
	source, series, load, input, block                float64
	lead, common, leadC                               float64
	condenser, contact, leak, coilR, coilL, eddy, far float64
	f                                                 float64
	// plates tells that the eddy losses are those of plates rather than of one resistor.
	plates bool
	// clips is "points", or what else the clips are on: "apart", "together" or a resistance.
	clips string
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "grid:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("arguments, got %d, want the folder to write to", len(args))
	}
	list := circuits()
	if err := os.WriteFile(filepath.Join(args[0], "cases.csv"), cases(list), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(args[0], "grid.cir"), netlist(list), 0o644)
}

// circuits makes the grid: every combination of wiring, source, series resistor, load, condenser and coil; the rest is drawn.
func circuits() (list []circuit) {
	rng := rand.New(rand.NewPCG(1, 1))
	pick := func(from ...float64) float64 { return from[rng.IntN(len(from))] }
	// Three digits are what is written, so what is drawn has no more.
	between := func(lo, hi float64) float64 {
		x := lo * math.Pow(hi/lo, rng.Float64())
		digits := math.Pow(10, 2-math.Floor(math.Log10(x)))
		return math.Round(x*digits) / digits
	}
	clips := []string{"apart", "together", "15", "47", "220"}
	for _, across := range []bool{false, true} {
		for _, source := range []float64{10, 100, 600} {
			for _, series := range []float64{0, 100} {
				for _, load := range []float64{10, 47, 1000} {
					cable := func() circuit {
						return circuit{
							across: across, source: source, series: series, load: load, clips: "points",
							input: pick(0, 10e3, 47e3), block: pick(0, 1e-6, 2.2e-6, 10e-6),
							lead: pick(0, 0.05, 0.2, 1), common: pick(0, 0.02, 0.1, 0.5), leadC: pick(0, 300e-12, 1e-9, 3e-9),
							f: pick(300, 440, 1000, 1370, 2500, 3050, 5100, 8000),
						}
					}
					for _, condenser := range []float64{0, 0.1e-6, 0.22e-6, 0.4e-6} {
						for coil := range 3 {
							c := cable()
							c.condenser, c.contact, c.leak = condenser, pick(0.05, 0.2, 1, 5, 30), pick(0, 0, 1e3, 47e3, 1e6)
							switch coil {
							case 1: // battery
								c.coilR, c.coilL, c.eddy = between(0.5, 4), between(3e-3, 10e-3), pick(0, 50, 400)
								c.far = pick(0, 3, math.Inf(1))
							case 2: // source coil
								c.coilR, c.coilL, c.eddy = between(0.3, 0.6), between(0.8e-3, 4e-3), between(10, 150)
								c.plates = rng.IntN(2) == 0
							}
							list = append(list, c)
						}
					}
					for range 3 {
						c := cable()
						c.clips = clips[len(list)%len(clips)]
						list = append(list, c)
					}
				}
			}
		}
	}
	return list
}

// cases is the list for the test to read.
func cases(list []circuit) []byte {
	var b bytes.Buffer
	b.WriteString("case,wiring,source,series,load,input,block,lead,common,leadC,condenser,contact,leak,coilR,coilL,eddy,far,f,plates,clips\n")
	for i, c := range list {
		wiring := "line"
		if c.across {
			wiring = "across"
		}
		fmt.Fprintf(&b, "%d,%s", i+1, wiring)
		for _, x := range []float64{c.source, c.series, c.load, c.input, c.block, c.lead, c.common, c.leadC,
			c.condenser, c.contact, c.leak, c.coilR, c.coilL, c.eddy, c.far, c.f} {
			fmt.Fprintf(&b, ",%g", x)
		}
		fmt.Fprintf(&b, ",%t,%s\n", c.plates, c.clips)
	}
	return b.Bytes()
}

// wires writes the lines of one circuit; its parts and nodes have name in theirs.
type wires struct {
	*bytes.Buffer
	name string
	n    int
}

// part puts a part between two nodes.
func (w *wires) part(letter, a, b string, value float64) {
	w.n++
	fmt.Fprintf(w, "%s%s_%d %s %s %.7g\n", letter, w.name, w.n, w.node(a), w.node(b), value)
}

// resistor puts a resistor between two nodes, or a wire where it has none: ngspice makes 1 mohm of a resistor of 0, so a wire is a
// voltage of 0.
func (w *wires) resistor(a, b string, ohm float64) {
	if ohm == 0 {
		w.part("V", a, b, 0)
		return
	}
	w.part("R", a, b, ohm)
}

// node names a node of this circuit; ground is everybody's.
func (w *wires) node(n string) string {
	if n == "0" {
		return n
	}
	return n + w.name
}

// netlist writes all circuits side by side, each with closed points (c) and open ones (o), or with what else the clips are on (w).
func netlist(list []circuit) []byte {
	var b bytes.Buffer
	b.WriteString("* cables with what they are on; written by the program in grid, do not edit\n")
	at := map[float64][]string{}
	var tones []float64
	for i, c := range list {
		states := "w"
		if c.clips == "points" {
			states = "co"
		}
		for _, state := range states {
			w := &wires{Buffer: &b, name: fmt.Sprintf("%d%c", i+1, state)}
			c.wire(w, state)
			if at[c.f] == nil {
				tones = append(tones, c.f)
			}
			at[c.f] = append(at[c.f], "v("+w.node("in")+")")
		}
	}
	b.WriteString(".control\nset numdgt=10\n")
	for _, f := range tones {
		fmt.Fprintf(&b, "ac lin 1 %g %g\n", f, f)
		for nodes := at[f]; len(nodes) > 0; nodes = nodes[min(8, len(nodes)):] {
			fmt.Fprintf(&b, "print %s\n", strings.Join(nodes[:min(8, len(nodes))], " "))
		}
	}
	b.WriteString(".endc\n.end\n")
	return b.Bytes()
}

// wire goes along the cable: output, its resistor, the lead out, the clips, the lead back, the input.
func (c circuit) wire(w *wires, state rune) {
	fmt.Fprintf(w, "V%s %s 0 DC 0 AC 1\n", w.name, w.node("emf"))
	w.resistor("emf", "jack", c.source)
	w.resistor("jack", "box", c.series)
	// In line the tone comes back by a lead of its own; across, the way back is ground, and the input hangs on the clip by a lead
	// without current worth naming.
	clip, back, sense := "clip", "back", "sense"
	if c.across {
		back, sense = "0", "clip"
		w.resistor("box", clip, c.lead)
	} else {
		w.resistor("box", clip, c.lead/2)
		w.resistor(back, sense, c.lead/2)
		if c.block > 0 {
			// The operating point needs a way for direct current: insulation of 1 Gohm, nothing beside the input.
			w.part("R", back, "0", 1e9)
		}
	}
	if c.leadC > 0 {
		w.part("C", clip, back, c.leadC)
	}
	switch c.clips {
	case "points":
		w.resistor(clip, "arm", c.common)
		c.points(w, "arm", back, state == 'c')
	case "apart":
	case "together":
		w.resistor(clip, back, c.common)
	default:
		w.resistor(clip, "arm", c.common)
		fmt.Fprintf(w, "R%s %s %s %s\n", w.name, w.node("arm"), w.node(back), c.clips)
	}
	if c.block > 0 {
		w.part("C", sense, "in", c.block)
	} else {
		w.part("V", sense, "in", 0)
	}
	w.part("R", "in", "0", c.load)
	if c.input > 0 {
		w.part("R", "in", "0", c.input)
	}
}

// points puts contacts, condenser and coil between the moving arm and the fixed point.
func (c circuit) points(w *wires, arm, fixed string, closed bool) {
	if closed {
		w.part("R", arm, fixed, c.contact)
	} else if c.leak > 0 {
		w.part("R", arm, fixed, c.leak)
	}
	if c.condenser > 0 {
		w.part("C", arm, fixed, c.condenser)
	}
	if c.coilL == 0 {
		return
	}
	w.part("R", arm, "wire", c.coilR)
	w.part("L", "wire", "end", c.coilL)
	switch {
	case c.plates:
		// Layer by layer into the plate: a resistance on the way to the inductance of what lies deeper, and so on. The continued fraction
		// tanh(x)/x = 1/(1 + x^2/(3 + x^2/(5 + ...))) gives their sizes.
		node := "wire"
		for i := range 6 {
			deeper := fmt.Sprintf("p%d", i)
			w.part("R", node, deeper, c.eddy*float64(4*i+3)/3)
			w.part("L", deeper, "end", c.coilL/float64(4*i+5))
			node = deeper
		}
	case c.eddy > 0:
		w.part("R", "wire", "end", c.eddy)
	}
	if !math.IsInf(c.far, 1) {
		w.resistor("end", fixed, c.far)
	}
}
