package cli

import (
	"math"
	"math/cmplx"
	"slices"

	"breakcue/audio/circuit"
)

// circuitResult is what circuit prints with --json. Nothing in it is rounded. Levels are relative to what the output gives with
// nothing connected; a level of nothing at all has no decibels and is null.
type circuitResult struct {
	Schema      string        `json:"schema"`
	Engine      *string       `json:"engine"` // by its sheet
	ToneV       float64       `json:"tone_v_rms"`
	NoiseV      float64       `json:"noise_v_rms"`
	Wander      float64       `json:"wander"`
	SampleRate  int           `json:"sample_rate"` // that the limit of timing holds for
	CondenserUF *float64      `json:"condenser_uf"`
	ContactOhm  float64       `json:"contact_ohm"`
	Coil        *circuitCoil  `json:"coil"`
	Cables      []cableResult `json:"cables"`
	SweptOver   *string       `json:"swept_over"`
	job         circuitJob    // for people
}

// circuitCoil is the coil on the points; where it is unknown, its figures are those of a likely one.
type circuitCoil struct {
	Kind    string   `json:"kind"` // "battery", "source"
	Unknown bool     `json:"unknown"`
	MH      float64  `json:"inductance_mh"`
	Ohm     float64  `json:"resistance_ohm"`
	EddyOhm *float64 `json:"eddy_loss_ohm"`
	EndOhm  *float64 `json:"end_ohm"` // null where the far end goes nowhere
}

// cableResult is what one cable comes to.
type cableResult struct {
	Wiring        string       `json:"wiring"`
	ToneHz        float64      `json:"tone_hz"`
	SourceOhm     float64      `json:"source_ohm"`
	SeriesOhm     float64      `json:"series_ohm"`
	LoadOhm       *float64     `json:"load_ohm"`
	InputOhm      float64      `json:"input_ohm"`
	BlockUF       *float64     `json:"block_uf"`
	LeadOhm       float64      `json:"lead_ohm"`
	SharedLeadOhm float64      `json:"shared_lead_ohm"`
	LeadNF        float64      `json:"lead_capacitance_nf"`
	Closed        levelResult  `json:"closed"`
	Open          levelResult  `json:"open"`
	ContrastDB    float64      `json:"contrast_db"`
	TurnDeg       float64      `json:"turn_deg"`
	IQDistance    float64      `json:"iq_distance"`
	SNRDB         *float64     `json:"snr_db"`
	LimitUS       *float64     `json:"edge_limit_us"` // null when no edge can be timed
	MarginDB      *float64     `json:"margin_db"`     // null when closed and open are the same
	WorstDB       *float64     `json:"worst_margin_db"`
	Worst         worstCase    `json:"worst"`
	LeadOff       []leadResult `json:"lead_off"`
	Verdict       string       `json:"verdict"` // "will_do", "poor", "will_not_do"
	Reason        string       `json:"reason"`
	Change        string       `json:"change"` // empty where nothing need be changed
	Best          *bestResult  `json:"best"`   // null where nothing tells open from closed
	Sweep         []sweepRow   `json:"sweep,omitempty"`
	cable         circuitCable // for people
	verdict       circuit.Verdict
}

// levelResult is a level at the input.
type levelResult struct {
	DB       *float64 `json:"level_db"`
	PhaseDeg *float64 `json:"phase_deg"`
	V        float64  `json:"v_rms"`
}

// worstCase is that of the likely cases in which closed and open lie nearest.
type worstCase struct {
	ContactOhm  float64  `json:"contact_ohm"`
	CondenserUF *float64 `json:"condenser_uf"`
	CoilMH      *float64 `json:"coil_mh"`
}

// leadResult is what a lead that falls off looks like.
type leadResult struct {
	Lead  string      `json:"lead"` // "any", "clip off the points", "drive or sense"
	Level levelResult `json:"level"`
	Looks string      `json:"looks_like"` // "open", "closed", "either", "neither"
}

// bestResult is the best tone with the best resistors for the case at hand.
type bestResult struct {
	ToneHz    float64  `json:"tone_hz"`
	FromHz    float64  `json:"tone_from_hz"` // tones from here to there are within 1 dB of the best
	ToHz      float64  `json:"tone_to_hz"`
	SeriesOhm float64  `json:"series_ohm"`
	LoadOhm   *float64 `json:"load_ohm"`
	WorstDB   float64  `json:"worst_margin_db"`
	LimitUS   float64  `json:"worst_edge_limit_us"`
}

// result works everything out.
func (job circuitJob) result() (circuitResult, error) {
	first := job.cables[0]
	out := circuitResult{
		Schema: "breakcue.circuit/1", ToneV: job.hearing.Tone, NoiseV: job.hearing.Noise, Wander: job.hearing.Wander, SampleRate: circuitRate,
		CondenserUF: unlessZero(first.Condenser / 1e-6), ContactOhm: first.Contact, job: job,
	}
	if job.engine != nil {
		out.Engine = &job.engine.Name
	}
	if c := first.Coil; c != nil {
		out.Coil = &circuitCoil{"source", first.coil == anySourceCoil, c.L / 1e-3, c.R, unlessZero(c.Eddy), finite(c.Far)}
		if first.coil == batteryCoil {
			out.Coil.Kind = "battery"
		}
	}
	for _, k := range job.cables {
		r, err := job.cable(k)
		if err != nil {
			return out, fail(ExitFailed, "check the values given", "%w", err)
		}
		if job.sweep != nil {
			if r.Sweep, err = job.sweep.rows(job.hearing, k, job.sweep.values); err != nil {
				return out, err
			}
		}
		out.Cables = append(out.Cables, r)
	}
	if job.sweep != nil {
		out.SweptOver = &job.sweep.name
	}
	return out, nil
}

// cable works out one of them.
func (job circuitJob) cable(k circuitCable) (cableResult, error) {
	l, err := k.At(k.tone)
	if err != nil {
		return cableResult{}, err
	}
	h := job.hearing
	worst, which, err := h.Worst(k.all, k.tone)
	if err != nil {
		return cableResult{}, err
	}
	out := cableResult{
		Wiring: k.Wiring.String(), ToneHz: k.tone, SourceOhm: k.Source, SeriesOhm: k.Series, LoadOhm: unlessZero(k.Load), InputOhm: k.Input,
		BlockUF: unlessZero(k.Block / 1e-6), LeadOhm: k.Lead, SharedLeadOhm: k.Common, LeadNF: k.LeadC / 1e-9,
		Closed: levelOf(l.Closed, h), Open: levelOf(l.Open, h), ContrastDB: l.Contrast(), TurnDeg: l.Turn(), IQDistance: l.Distance(),
		SNRDB: finite(h.SNR(l)), LimitUS: finite(1e6 * circuit.EdgeLimit(h.Step(l), k.tone)), MarginDB: finite(h.Margin(l)), WorstDB: finite(worst),
		Worst: worstCase{ContactOhm: which.Contact, CondenserUF: unlessZero(which.Condenser / 1e-6)}, cable: k, verdict: circuit.Judge(worst),
	}
	if which.Coil != nil {
		mh := which.Coil.L / 1e-3
		out.Worst.CoilMH = &mh
	}
	out.Verdict = [...]string{"will_not_do", "poor", "will_do"}[out.verdict]
	if out.LeadOff, err = k.leadsOff(h); err != nil {
		return out, err
	}
	if best, err := h.Best(k.all, circuit.UsualChoice(k.Wiring)); err == nil {
		out.Best = &bestResult{best.Tone, best.From, best.To, best.Series, unlessZero(best.Load), best.Margin, 1e6 * best.Limit}
	}
	worstLevels, err := which.At(k.tone)
	if err != nil {
		return out, err
	}
	out.Reason = k.reason(h, which, worstLevels, worst)
	out.Change, err = k.change(h, worst)
	return out, err
}

// leadsOff tells what leads that fall off look like in any of the likely cases: levels that lie less apart than would do are taken for
// each other.
func (k circuitCable) leadsOff(h circuit.Hearing) ([]leadResult, error) {
	clips, err := k.With(k.tone, cmplx.Inf())
	if err != nil {
		return nil, err
	}
	var all []circuit.Levels
	for _, c := range k.all {
		l, err := c.At(k.tone)
		if err != nil {
			return nil, err
		}
		all = append(all, l)
	}
	one := func(lead string, level complex128) leadResult {
		like := func(other complex128) bool {
			return circuit.Judge(h.Margin(circuit.Levels{Closed: level, Open: other})) == circuit.WillNotDo
		}
		looks := "neither"
		open := slices.ContainsFunc(all, func(l circuit.Levels) bool { return like(l.Open) })
		closed := slices.ContainsFunc(all, func(l circuit.Levels) bool { return like(l.Closed) })
		switch {
		case open && closed:
			looks = "either"
		case open:
			looks = "open"
		case closed:
			looks = "closed"
		}
		return leadResult{lead, levelOf(level, h), looks}
	}
	if k.Wiring == circuit.Series {
		return []leadResult{one("any", clips)}, nil
	}
	return []leadResult{one("clip off the points", clips), one("drive or sense", 0)}, nil
}

func levelOf(level complex128, h circuit.Hearing) levelResult {
	out := levelResult{V: cmplx.Abs(level) * h.Tone}
	if level != 0 {
		db, phase := 20*math.Log10(cmplx.Abs(level)), cmplx.Phase(level)*180/math.Pi
		out.DB, out.PhaseDeg = &db, &phase
	}
	return out
}

// unlessZero is nil for a part that there is not.
func unlessZero(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return &x
}

// finite is nil for what has no figure.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}
