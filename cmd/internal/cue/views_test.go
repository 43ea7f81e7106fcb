package cue

import (
	"strings"
	"time"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// scene is a view that tests look at, at the time noon.
type scene struct {
	name string
	view View
}

// scenes has each state, and each thing that a screen may have to show.
func scenes() []scene {
	base := View{
		Heading: "in line, tone 1010 Hz, device cable",
		Health:  "Signal: tone -14.1 dBFS, 52 dB above the noise.",
		Record:  "recording take-01.wav 0:12",
		Keys:    "x throws the newest opening away. Ctrl-C ends.",
	}
	with := func(name string, change func(*View)) scene {
		v := base
		change(&v)
		return scene{name, v}
	}
	opening := func(v *View, number int, ago time.Duration) {
		v.State, v.Number, v.OpenedAt = Open, number, noon.Add(-ago)
	}
	return []scene{
		with("unknown", func(v *View) {
			v.Health, v.Record = "Signal: listening.", ""
			v.Advice = "Turn the engine a little forward and back, so that the points open and close once."
		}),
		with("closed", func(v *View) {
			v.State = Closed
			v.Advice = "Turn slowly forward until the points open."
		}),
		with("closed-count", func(v *View) {
			v.State, v.Number, v.Thrown = Closed, 12, 2
			v.Advice = "Turn slowly forward until the points open."
			v.Note = "Opening 12 counts."
		}),
		with("open", func(v *View) {
			opening(v, 3, 4*time.Second)
			v.Provisional = true
			v.Advice = "Read the dial, then turn back until the points close."
		}),
		with("open-warning", func(v *View) {
			opening(v, 104, 75*time.Second)
			v.Thrown = 1
			v.Warning = "The sound card clips: turn the input down until the level is below -3 dBFS."
			v.Note = "Opening 103 thrown away."
		}),
		with("open-prompt", func(v *View) {
			opening(v, 7, 12*time.Second)
			v.Provisional = true
			v.Prompt, v.Typed = "Reading for opening 7, mm (last closed / first open):", "2.03/1.9"
			v.Advice = "Type the reading and press Enter."
			v.Note = "Opening 7 heard."
		}),
		with("lost", func(v *View) {
			v.State, v.Number, v.OpenedAt = Lost, 3, noon.Add(-31*time.Second)
			v.Warning = "The tone does not come back: look at the plugs and the leads."
			v.Health = "Signal: tone below -80 dBFS."
		}),
		with("task", func(v *View) {
			opening(v, 1, 300*time.Millisecond)
			v.Task = "Open and close the points by hand a few times: the whole screen must turn from dark to light each time."
			v.Advice = "Watch the screen, not the points."
			v.Keys = "Enter: done  b: back  q: end"
		}),
		with("task-caution", func(v *View) {
			v.State = Closed
			v.Task = "! take the cable off before the engine is kicked or cranked"
			v.Keys = "Enter: done  b: back  q: end"
		}),
		with("result", func(v *View) {
			*v = measured(*v)
			opening(v, 7, 12*time.Second)
		}),
		with("result-typed", func(v *View) {
			*v = measured(*v)
			v.State, v.Number, v.Typed = Closed, 7, "2.04/1.9"
		}),
		with("result-warning", func(v *View) {
			*v = measured(*v)
			v.State, v.Number = Closed, 7
			v.Result = "?"
			v.Warning = "The sound card clips: turn the input down until the level is below -3 dBFS."
			v.Advice = "2.03/1.98: 0.04 mm too late; cannot tell yet, 2 more passes, 95 %: 0.21 mm too late to 0.13 mm too early"
		}),
		with("page", func(v *View) {
			v.State, v.Number = Closed, 3
			v.Page, v.Keys = safePage(), pageKeys
			v.Page.Current = 2
		}),
		with("page-caution", func(v *View) {
			v.Page, v.Keys = tdcPage(), pageKeys
			v.Page.Current = 1
			v.Note = "Opening 3 thrown away."
		}),
		with("page-middle", func(v *View) {
			opening(v, 3, 300*time.Millisecond)
			v.Page, v.Keys = tdcPage(), pageKeys
			v.Page.Current = 4
			v.Advice = "Tick it when it is done."
		}),
		with("page-prompt", func(v *View) {
			v.State = Lost
			v.Warning = "The tone does not come back: look at the plugs and the leads."
			v.Page = Page{Title: "the gap at full lift, cylinder left", At: 9, Of: 17, Items: "! do not touch a screw\n[ ] measure the gap at full lift with a feeler gauge", Current: 1}
			v.Prompt, v.Typed = "Gap, mm:", "0.3"
			v.Keys = "Enter: take it  b: back  q: end"
		}),
		with("page-choice", func(v *View) {
			v.State = Closed
			v.Page = Page{
				Title:   "Which ignition has the engine?",
				Items:   "1 battery and coil\n2 magneto\n3 both: a magneto and, for starting, a coil with a battery",
				Current: 1,
			}
			v.Keys = "1 2 3: choose  Enter: take it  q: end"
		}),
	}
}

const pageKeys = "Enter: tick, next  b: back  s: leave it open  q: end"

// measured is base just after a reading.
func measured(base View) View {
	base.Prompt = "Dial reading, left, as found"
	base.Task = "Turn back to 2.85 or beyond, then come forward slowly until the points open."
	base.Result = "0.28 EARLY"
	base.Advice = "2.03/1.98: 0.28 mm too early: move its own plate 1.4° clockwise; out of tolerance, 95 %: 0.21 to 0.35 mm too early"
	base.Keys = "Enter: take the reading  *: next cylinder or phase  x: throw opening away  q: end"
	return base
}

// safePage is a short step.
func safePage() Page {
	return Page{Title: "make it safe: battery ignition", At: 2, Of: 17, Items: strings.Join([]string{
		"! live points switch 4 to 5 A, the coil kicks back with 200 V and more at the points and 20 kV at the plug",
		"[x] switch the ignition off",
		"[ ] disconnect the battery",
		"[ ] take the coil lead off the points (left, right)",
	}, "\n")}
}

// tdcPage is a step whose items are long.
func tdcPage() Page {
	return Page{Title: "TDC of cylinder left, as found", At: 6, Of: 17, Items: strings.Join([]string{
		"! never a full turn of the crank with the dial in: rock it within the dial's range",
		"! turned back, the nut on the crank may come loose: turn forward by it, backward by the wheel or the belt",
		"[x] find the compression stroke: both valves closed, air presses out of the plug hole; the points of a half-speed cam do not open at the other TDC",
		"[x] put the dial in, pressed in by 3.40 mm or more at TDC",
		"[ ] rock the crank over the top both ways; where the pointer turns round is TDC",
		"[ ] set the dial to zero at TDC, counter and pointer on 0.00; at the mark they then show 2.30",
		"[ ] or set a degree wheel by equal heights: 'breakcue tdc' tells how",
	}, "\n")}
}
