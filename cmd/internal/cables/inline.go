package cables

func inLine() Cable {
	return Cable{
		Name: "in-line", Title: "in line with the points (series)", Wiring: "series", Series: 100, Load: 47, Sets: 1,
		Use: "for points that stand alone, coil off: simple, and any lead that falls off silences the tone. Not for a source coil that stays on. Points closed = tone.",
		Text: []string{
			"OUTPUT                                     POINTS",
			"tip ─────┬────[ R1 100 Ω ]──────────────── insulated lead",
			"       D1 D2",
			"screen ──┴──── (to the input's screen)",
			"INPUT",
			"tip ─||──┬────[ R2 1 kΩ ]────┬──────────── engine",
			"     C1 D3 D4             [ R6 47 Ω ]",
			"screen ──┴───────────────────┴──── (not to the engine)",
		},
		Parts: append(append(plugs(false), []Part{
			{"R1", "resistor 100 Ω, 1 W, 5 %", "between output and points"},
			{"R6", "resistor 47 Ω, 1 W, 5 %", "the load: that low, or the condenser passes nearly as much of the tone as closed points do"},
			{"R2", "resistor 1 kΩ, 0.25 W, 5 %", "holds the current through the diodes down"},
		}...), append(guards(), Part{"", "2 insulated clips; 3 m of two-wire cable, screened", "the screen ends at the plugs"})...),
		Make: []string{
			"Output plug: R1 to the tip, the wire of the red clip to its other end; D1 and D2 between tip and screen.",
			"Input plug: C1 to the tip, R2 to C1, the wire of the black clip to R2's other end; R6 from there to the screen; D3 and D4 between screen and where C1 meets R2.",
			"A wire from screen to screen, at the plugs. No screen goes to a clip.",
			"Sleeve the joints; pull at each wire.",
		},
		Try: append([]string{
			"Meter, plugs out: output tip to red clip 100 Ω; black clip to either screen 47 Ω.",
			"Meter on its diode range, tip to screen of each plug, both ways round: 0.4 to 0.7 V each time (none at the input with C1 in).",
			"Plug in, clips apart, 'breakcue listen': no tone. Clips together: the tone comes, points closed.",
		}, append(safe, "Run the computer from its battery. Red clip to the insulated lead of the points, black clip to bare metal of the engine. "+
			"With points of 0.2 Ω and 0.22 µF the tone of 975 Hz falls by 10 dB and turns by 72° when the points open.")...),
	}
}

func twoInLine() Cable {
	return Cable{
		Name: "two-in-line", Title: "in line with two sets of points (series)", Wiring: "series", Series: 100, Load: 10, Sets: 2,
		Use: "two sets of points that stand alone, coils off, one tone each by the left and the right output. Points closed = tone.",
		Text: []string{
			"OUTPUT                                     POINTS 1",
			"tip ─────┬────[ R1 100 Ω ]──────────────── insulated lead",
			"       D1 D2",
			"screen ──┴──── (to the input's screen)",
			"                                           POINTS 2",
			"ring ────┬────[ R4 100 Ω ]──────────────── insulated lead",
			"       D5 D6",
			"screen ──┴──── (to the input's screen)",
			"INPUT",
			"tip ─||──┬────[ R2 1 kΩ ]────┬──────────── engine",
			"     C1 D3 D4             [ R6 10 Ω ]",
			"screen ──┴───────────────────┴──── (not to the engine)",
		},
		Parts: append(append(plugs(true), []Part{
			{"R1 R4", "2 resistors 100 Ω, 1 W, 5 %", "one from each output"},
			{"R6", "resistor 10 Ω, 1 W, 5 %", "the load, for both; that low, or one set's points change the other's tone too much"},
			{"R2", "resistor 1 kΩ, 0.25 W, 5 %", "holds the current through the diodes down"},
		}...), append(guards(), Part{"D5 D6", "2 more rectifier diodes, as D1 and D2", "across the right output"}, Part{"", "3 insulated clips, two of them of different colours; 3 m of three-wire cable, screened", "the screen ends at the plugs"})...),
		Make: []string{
			"Output plug: R1 to the tip and R4 to the ring, the wires of clips 1 and 2 to their other ends; D1 and D2 between tip and screen, D5 and D6 between ring and screen.",
			"Input plug: C1 to the tip, R2 to C1, the wire of the black clip to R2's other end; R6 from there to the screen; D3 and D4 between screen and where C1 meets R2.",
			"A wire from screen to screen, at the plugs. No screen goes to a clip.",
		},
		Try: append([]string{
			"Meter, plugs out: tip to clip 1 and ring to clip 2 100 Ω; black clip to either screen 10 Ω.",
			"Play the left channel alone: clip 1 to black brings the tone, clip 2 to black hardly changes it. Then the right one, the other way round.",
		}, append(safe, "Run the computer from its battery. Clip 1 and clip 2 to the insulated leads of the two sets, black to the engine. With points of 0.2 Ω and 0.22 µF a "+
			"tone of 975 Hz falls by 11 dB and turns by 74° when its own points open; the other set's points change it by 4 % of itself.")...),
	}
}
