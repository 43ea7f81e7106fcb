package sheet

// Kind says what a sheet is about.
type Kind string

// The kinds.
const (
	EngineSheet Kind = "engine"
	DialSheet   Kind = "dial"
)

// KindOf tells by its keys whether data is an engine sheet or a dial sheet: the kind of which it has more keys, so that a
// misspelt one does not matter. file is its name for errors: one that is no TOML, or has as many keys of one as of the other.
func KindOf(file string, data []byte) (Kind, error) {
	d, err := parse(file, data)
	if err != nil {
		return "", err
	}
	engine, dial := *d, *d
	engine.asked, dial.asked = map[string]bool{}, map[string]bool{}
	engine.readEngine()
	dial.readDial()
	n := 0
	for key := range d.values {
		if engine.asked[key] {
			n++
		}
		if dial.asked[key] {
			n--
		}
	}
	switch {
	case n > 0:
		return EngineSheet, nil
	case n < 0:
		return DialSheet, nil
	}
	return "", &Error{File: file, Message: "is neither an engine sheet nor a dial sheet: want keys such as stroke and rod of an engine, or graduation and range of a dial"}
}
