package cue

import "time"

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
	}
}
