package cli

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"breakcue/audio/circuit"
)

const (
	plotWidth, plotHeight = 600, 390 // [points]: 800 by 520 pixels at 96 to the inch
	plotLow, plotHigh     = -10, 50  // margins drawn [dB]; lower ones lie on the lower edge, none is above 40
	plotPoints            = 160      // of a line
	plotMarks             = 9        // between these, so that lines are told apart without colour
)

// draw draws the sweep to a file that must not be there yet.
func (r circuitResult) draw(file string) error {
	p, desc, err := r.plot()
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if strings.EqualFold(filepath.Ext(file), ".svg") {
		err = writeSVG(&page, p, r.plotTitle(), desc)
	} else {
		c := vgimg.NewWith(vgimg.UseWH(plotWidth, plotHeight), vgimg.UseDPI(96))
		p.Draw(inset(draw.New(c)))
		_, err = vgimg.PngCanvas{Canvas: c}.WriteTo(&page)
	}
	if err != nil {
		return fail(ExitFailed, "leave --plot out: the table has the same figures", "%w", err)
	}
	return writePicture("--plot", file, &page)
}

// inset keeps the picture off the edges of the page.
func inset(c draw.Canvas) draw.Canvas { return draw.Crop(c, 10, -14, 8, -10) }

// writePicture writes a file that must not be there yet.
func writePicture(flag, file string, page *bytes.Buffer) error {
	out, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fail(ExitFailed, "choose another name; nothing is ever overwritten", "%s is there already", file)
	}
	if err != nil {
		return fail(ExitFailed, "check the name given by "+flag, "%w", err)
	}
	_, err = page.WriteTo(out)
	if err = errors.Join(err, out.Close()); err != nil {
		return fail(ExitFailed, "make room, or choose another place with "+flag, "%w", err)
	}
	return nil
}

func (r circuitResult) plotTitle() string {
	over := map[string]string{
		"tone": "the test tone", "contact": "the resistance of closed points", "condenser": "the condenser", "load": "the load", "series": "the resistor in series",
	}
	return "How well closed is told from open, over " + over[r.job.sweep.name]
}

// plot makes the picture, and says in words what it shows.
func (r circuitResult) plot() (*plot.Plot, string, error) {
	s := r.job.sweep
	p := plot.New()
	p.BackgroundColor = color.White
	p.Title.Text = r.plotTitle()
	p.X.Label.Text = map[string]string{
		"tone": "test tone [kHz]", "contact": "closed points [Ω]", "condenser": "condenser [µF]", "load": "load across the input [Ω]", "series": "resistor in series [Ω]",
	}[s.name]
	p.Y.Label.Text = "margin [dB]"
	p.X.Scale, p.X.Tick.Marker = plot.LogScale{}, plot.ConstantTicks(s.ticks())
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = s.lo, s.hi, plotLow, plotHigh
	p.Y.Tick.Marker = plot.ConstantTicks(everyTen())
	p.Legend.Top = true // over 40 dB there is nothing else
	p.Legend.XOffs, p.Legend.YOffs, p.Legend.Padding, p.Legend.ThumbnailWidth = -8, 0, 4, 34
	plain(p)
	if err := limits(p, s); err != nil {
		return nil, "", err
	}
	desc := []string{fmt.Sprintf("Margin in decibels, from %d to %d dB, between %s and %s. From 20 dB on a cable will do, below 14 dB it will not.",
		plotLow, plotHigh, s.say(s.lo), s.say(s.hi))}
	for _, c := range r.Cables {
		words, err := r.curves(p, c)
		if err != nil {
			return nil, "", err
		}
		desc = append(desc, words)
	}
	return p, strings.Join(desc, " "), nil
}

// plain sets every text of the picture in letters without serifs, large enough on a screen.
func plain(p *plot.Plot) {
	face := func(size vg.Length) font.Font { return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size} }
	p.Title.TextStyle.Font, p.Title.Padding = face(14), 10
	p.X.Label.TextStyle.Font, p.Y.Label.TextStyle.Font = face(12), face(12)
	p.X.Tick.Label.Font, p.Y.Tick.Label.Font = face(11), face(11)
	p.Legend.TextStyle.Font = face(11)
}

// limits draws where verdicts change, and their names.
func limits(p *plot.Plot, s *circuitSweep) error {
	grey := color.RGBA{0x59, 0x59, 0x59, 0xff}
	for _, y := range []float64{14, 20} {
		l, err := plotter.NewLine(plotter.XYs{{X: s.lo, Y: y}, {X: s.hi, Y: y}})
		if err != nil {
			return err
		}
		l.Color, l.Width = grey, 0.7
		p.Add(l)
	}
	names, err := plotter.NewLabels(plotter.XYLabels{
		XYs:    plotter.XYs{{X: s.lo, Y: 20.7}, {X: s.lo, Y: 15.6}, {X: s.lo, Y: 11.2}},
		Labels: []string{circuit.WillDo.String(), circuit.Poor.String(), circuit.WillNotDo.String()},
	})
	if err != nil {
		return err
	}
	for i := range names.TextStyle {
		names.TextStyle[i].Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: 11}
		names.TextStyle[i].Color = grey
	}
	names.Offset = vg.Point{X: 6}
	p.Add(names)
	return nil
}

// curves draws the two lines of a cable, at worst and as given, and says how they run. Colours are of the set by Okabe and Ito that
// colour-blind people tell apart; marks and dashes tell the lines apart without them.
func (r circuitResult) curves(p *plot.Plot, c cableResult) (string, error) {
	hue, mark := color.RGBA{0x00, 0x72, 0xB2, 0xff}, draw.GlyphDrawer(draw.CircleGlyph{})
	if c.cable.Wiring == circuit.Shunt {
		hue, mark = color.RGBA{0xD5, 0x5E, 0x00, 0xff}, draw.PyramidGlyph{}
	}
	rows, err := r.job.sweep.rows(r.job.hearing, c.cable, r.job.sweep.fine(plotPoints))
	if err != nil {
		return "", err
	}
	worst, given, marks := make(plotter.XYs, len(rows)), make(plotter.XYs, len(rows)), plotter.XYs{}
	for i, row := range rows {
		worst[i] = plotter.XY{X: row.Value, Y: drawn(row.WorstDB)}
		given[i] = plotter.XY{X: row.Value, Y: drawn(row.MarginDB)}
		if i%(plotPoints/plotMarks) == plotPoints/plotMarks/2 {
			marks = append(marks, worst[i])
		}
	}
	thin, err := plotter.NewLine(given)
	if err != nil {
		return "", err
	}
	thin.Color, thin.Width, thin.Dashes = hue, 1.2, []vg.Length{2, 3}
	thick, err := plotter.NewLine(worst)
	if err != nil {
		return "", err
	}
	thick.Color, thick.Width = hue, 2
	dots, err := plotter.NewScatter(marks)
	if err != nil {
		return "", err
	}
	dots.GlyphStyle = draw.GlyphStyle{Color: hue, Radius: 4, Shape: mark}
	p.Add(thin, thick, dots)
	name := wiringWords(c.cable.Wiring)
	p.Legend.Add(name+", at worst", thick, dots)
	p.Legend.Add(name+", parts as given", thin)
	lo, hi := rows[0], rows[0]
	for _, row := range rows {
		if drawn(row.WorstDB) < drawn(lo.WorstDB) {
			lo = row
		}
		if drawn(row.WorstDB) > drawn(hi.WorstDB) {
			hi = row
		}
	}
	s := r.job.sweep
	return fmt.Sprintf("Cable %s: at worst %.0f dB at its least, at %s, and %.0f dB at its most, at %s.", name,
		drawn(lo.WorstDB), s.say(lo.Value), drawn(hi.WorstDB), s.say(hi.Value)), nil
}

// drawn keeps a margin within the picture.
func drawn(x *float64) float64 {
	if x == nil {
		return plotLow
	}
	return math.Min(plotHigh, math.Max(plotLow, *x))
}

// ticks are the marks along the lower edge.
func (s circuitSweep) ticks() []plot.Tick {
	var out []plot.Tick
	values, unit := s.values, s.unit
	if s.name == "tone" {
		values, unit = []float64{300, 400, 500, 700, 1000, 1500, 2000, 3000, 4000, 5000, 6000, 8000}, 1000
	}
	for i, v := range values {
		label := fmt.Sprintf("%.3g", v/unit)
		if s.name == "condenser" && i%2 == 1 && v > 0.12e-6 {
			label = "" // they stand close
		}
		out = append(out, plot.Tick{Value: v, Label: label})
	}
	return out
}

func everyTen() []plot.Tick {
	var out []plot.Tick
	for y := plotLow; y <= plotHigh; y += 10 {
		out = append(out, plot.Tick{Value: float64(y), Label: fmt.Sprintf("%d", y)})
	}
	return out
}

// writeSVG writes the picture with a title and a description for those who do not see it, which the library leaves out.
func writeSVG(w *bytes.Buffer, p *plot.Plot, title, desc string) error {
	c := vgsvg.New(plotWidth, plotHeight)
	p.Draw(inset(draw.New(c)))
	var page bytes.Buffer
	if _, err := c.WriteTo(&page); err != nil {
		return err
	}
	head, rest, found := strings.Cut(page.String(), "<svg ")
	attributes, body, closed := strings.Cut(rest, ">")
	if !found || !closed {
		return fmt.Errorf("no picture came out")
	}
	fmt.Fprintf(w, `%s<svg role="img" aria-labelledby="title desc" %s>`+"\n<title id=\"title\">", head, attributes)
	if err := xml.EscapeText(w, []byte(title)); err != nil {
		return err
	}
	w.WriteString("</title>\n<desc id=\"desc\">")
	if err := xml.EscapeText(w, []byte(desc)); err != nil {
		return err
	}
	w.WriteString("</desc>" + strings.ReplaceAll(body, "font-family:Liberation Sans;", "font-family:Liberation Sans,Arial,sans-serif;"))
	return nil
}
