package session

import (
	"fmt"

	"breakcue/timing"
	"breakcue/timing/logbook"
	"breakcue/timing/sheet"
)

// Sheets are the engine and the dial of a session.
type Sheets struct {
	Engine sheet.Engine
	Dial   sheet.Dial
	// Setup is both together, ready to evaluate readings.
	Setup timing.Setup
	// AtOnce tells that both of two sets of points are followed at once: the cable is on both, and stays there.
	AtOnce bool

	engineText, dialText string
}

// LoadSheets reads both sheets and checks that they fit together.
func LoadSheets(enginePath, dialPath string) (Sheets, error) {
	engine, err := sheet.Read(enginePath)
	if err != nil {
		return Sheets{}, err
	}
	dial, err := sheet.Read(dialPath)
	if err != nil {
		return Sheets{}, err
	}
	return ParseSheets(enginePath, string(engine), dialPath, string(dial))
}

// ParseSheets is LoadSheets for the text of the sheets; the names are for errors.
func ParseSheets(engineName, engine, dialName, dial string) (Sheets, error) {
	s := Sheets{engineText: engine, dialText: dial}
	var err error
	if s.Engine, err = sheet.ParseEngine(engineName, []byte(engine)); err != nil {
		return Sheets{}, err
	}
	if s.Dial, err = sheet.ParseDial(dialName, []byte(dial)); err != nil {
		return Sheets{}, err
	}
	if s.Setup, err = timing.NewSetup(s.Engine.Crank, s.Dial.Dial, s.Engine.Timing); err != nil {
		return Sheets{}, fmt.Errorf("%s with %s: %w", engineName, dialName, err)
	}
	return s, nil
}

// Begin returns the first entry of a journal with everything that the sheets say; the caller adds what it knows of the
// recording.
func (s Sheets) Begin(tool string) logbook.Begin {
	return logbook.Begin{Tool: tool, Engine: s.Engine.Name, EngineSheet: s.engineText, DialSheet: s.dialText, Frames: -1}
}
