package pump

import "breakcue/detect"

// Set is what a recording holds of one set of points.
type Set struct {
	Config detect.Config // with the angle between the levels, where there is one
	Found  detect.Findings
	Levels detect.Levels // measured by the detector
	Model  detect.EdgeModel
}

// newHearer returns what hears one set of points, or two that share a channel, and the detector of each.
func newHearer(configs []detect.Config) (Hearer, []*detect.Detector, error) {
	if len(configs) == 1 {
		d, err := detect.New(configs[0])
		return d, []*detect.Detector{d}, err
	}
	p, err := detect.NewPair(configs[0], configs[1])
	if err != nil {
		return nil, nil, err
	}
	return p, []*detect.Detector{p.Detector(0), p.Detector(1)}, nil
}

// setOf returns the index of the configuration whose set of points an event is of.
func setOf(configs []detect.Config, e detect.Event) int {
	if len(configs) > 1 && e.Set == configs[1].Set {
		return 1
	}
	return 0
}
