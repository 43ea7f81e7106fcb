package cables

// safe are the steps before any clip goes on.
var safe = []string{
	"Make the engine safe: ignition off, battery off, coil lead off the points, plugs out and earthed, fuel off.",
}

// plugs are the parts that every cable begins with; two tells that the output's ring is used, too.
func plugs(two bool) []Part {
	ring := "its ring stays free"
	if two {
		ring = "tip is left, ring is right"
	}
	return []Part{
		{"", "plug 3.5 mm, three contacts (tip, ring, sleeve), for the line output or headphone jack", ring},
		{"", "plug 3.5 mm, two or three contacts, for the line input or microphone jack", "its ring stays free"},
		{"", "or, for a headset jack, one plug of four contacts for both",
			"tip left, first ring right, second ring screen, sleeve microphone; some older jacks have the last two the other way round"},
	}
}

// guards are the parts that protect the computer.
func guards() []Part {
	return []Part{
		{"D1 D2", "2 rectifier diodes, 1 A, 400 V (1N4004 or alike)", "across the output, each way round: take what a magneto drives back"},
		{"D3 D4", "2 small silicon diodes, 100 V (1N4148 or alike)", "across the input, each way round"},
		{"C1", "capacitor 1 µF, film, not polarised, 63 V or more", "keeps the bias of a microphone jack off the points, which would take their closing " +
			"for a pressed button; at a line input a wire will do in its place"},
		{"R3", "resistor 2.2 kΩ, 0.25 W, 5 %, at four contacts only", "between microphone and screen, on the plug's side of C1: without it many jacks " +
			"take the plug for headphones, and hear nothing"},
	}
}

func across() Cable {
	return Cable{
		Name: "across", Title: "across the points (shunt)", Wiring: "shunt", Series: 100, Sets: 1,
		Use: "the one that works everywhere: with a magneto's source coil still on the points, and with engine and computer both earthed. Points open = tone.",
		Text: []string{
			"OUTPUT                                     POINTS",
			"tip ─────┬────[ R1 100 Ω ]──── drive ──┐",
			"       D1 D2                           ├── insulated lead",
			"screen ──┴──── (to the engine)         │",
			"INPUT                                  │",
			"tip ─||──┬────[ R2 1 kΩ ]───── sense ──┘",
			"     C1 D3 D4",
			"screen ──┴──────────────────────────────── engine",
		},
		Parts: append(append(plugs(false), []Part{
			{"R1", "resistor 100 Ω, 1 W, 5 % (any from 50 to 200 Ω)", "lets the points short the tone, not the output"},
			{"R2", "resistor 1 kΩ, 0.25 W, 5 %", "holds the current through the diodes down"},
		}...), append(guards(), Part{"", "2 insulated clips; 3 m of twin screened cable", "a drive and a sense wire that meet only at the clip, so that no lead counts as points; the screens are the way back"})...),
		Make: []string{
			"Output plug: R1 to the tip, the drive wire to its other end; D1 and D2 between tip and screen, the marked end of one to the plain end of the other.",
			"Input plug: C1 to the tip, R2 to C1, the sense wire to R2's other end; D3 and D4 between screen and where C1 meets R2.",
			"First clip (red): drive and sense wire, both soldered to the clip itself, not to each other before it.",
			"Second clip (black): both screens, soldered to the clip itself.",
			"Sleeve the joints; pull at each wire.",
		},
		Try: append([]string{
			"Meter, plugs out of the computer: output tip to red clip 100 Ω; input tip to red clip 1 kΩ (with C1 in, no reading once it is charged); either screen to black clip below 0.5 Ω.",
			"Meter on its diode range, tip to screen of each plug, both ways round: 0.4 to 0.7 V each time (none at the input with C1 in).",
			"Plug in, clips apart, 'breakcue listen --wiring shunt': the tone is there, points open. Clips together: it falls away, points closed.",
		}, append(safe, "Red clip to the insulated lead of the points, black clip to bare metal of the engine. With points of 0.2 Ω and 0.22 µF the tone of 3225 Hz is 57 dB lower with the points closed.")...),
	}
}

func twoAcross() Cable {
	return Cable{
		Name: "two-across", Title: "across two sets of points (shunt)", Wiring: "shunt", Series: 100, Sets: 2,
		Use: "two sets of points at once, one tone each by the left and the right output, both heard at one input. Points open = tone.",
		Text: []string{
			"OUTPUT                                     POINTS 1",
			"tip ─────┬────[ R1 100 Ω ]──── drive 1 ┬── insulated lead",
			"       D1 D2                           │",
			"screen ──┴──── (to the engine)         │",
			"INPUT                                  │",
			"         ┌────[ R2 1 kΩ ]───── sense 1 ┘",
			"tip ─||──┤",
			"     C1  ├────[ R5 1 kΩ ]───── sense 2 ┐",
			"       D3 D4                           │",
			"screen ──┴──── (to the engine)         │",
			"(same plug)                            │   POINTS 2",
			"ring ────┬────[ R4 100 Ω ]──── drive 2 ┴── insulated lead",
			"       D5 D6",
			"screen ──┴──────────────────────────────── engine",
		},
		Parts: append(append(plugs(true), []Part{
			{"R1 R4", "2 resistors 100 Ω, 1 W, 5 % (any from 50 to 200 Ω)", "one from each output"},
			{"R2 R5", "2 resistors 1 kΩ, 0.25 W, 1 %", "bring both tones together at the input"},
		}...), append(guards(), Part{"D5 D6", "2 more rectifier diodes, as D1 and D2", "across the right output"}, Part{"", "3 insulated clips, two of them of different colours; 3 m of twin screened cable for each set", "a drive and a sense wire for each set"})...),
		Make: []string{
			"Output plug: R1 to the tip and R4 to the ring, a drive wire to each; D1 and D2 between tip and screen, D5 and D6 between ring and screen.",
			"Input plug: C1 to the tip; R2 and R5 to C1, a sense wire to the other end of each; D3 and D4 between screen and where C1 meets R2 and R5.",
			"A clip for each set: its drive and its sense wire, soldered to the clip itself. Mark them 1 (left) and 2 (right).",
			"Third clip (black): all screens.",
		},
		Try: append([]string{
			"Meter, plugs out: tip to clip 1 and ring to clip 2 100 Ω; clip 1 to clip 2 2 kΩ; each screen to the black clip below 0.5 Ω.",
			"Play the left channel alone: clip 1 to black makes the tone fall away, clip 2 to black changes it little. Then the right one, the other way round.",
		}, append(safe, "Clip 1 and clip 2 to the insulated leads of the two sets, black to the engine. With points of 0.2 Ω and 0.22 µF a tone of 3225 Hz is 57 dB lower with its own points closed; the other set's points change it by 7 % of itself.")...),
	}
}
