package leads

// Measure is what one step measured.
type Measure struct {
	Step    Step    `json:"step"`
	Channel int     `json:"channel"` // from 1
	Tones   []Tone  `json:"tones"`   // of the comb, from the lowest on
	Noise   float64 `json:"noise"`   // standard deviation of a sample, hum taken out [full scale]
	Hum     Hum     `json:"hum"`
	Offset  float64 `json:"offset"` // mean of the samples [full scale]
	Power   float64 `json:"power"`  // of the single tone as it comes back [dBFS, a full-scale sine is 0]
	// Clipped is the share of samples at full scale or on flattened tops, 0..1; Over by how much the input is too loud [dB], 0 where it is not.
	Clipped float64 `json:"clipped"`
	Over    float64 `json:"over_db"`
	Gain    Gain    `json:"gain"`
	// Steady tells that the level stood still before the measurement began; if not, it was begun after the longest wait.
	Steady bool `json:"steady"`
	// Zeros is how many samples were exactly 0 in runs of a millisecond or more amid sound; Lost how many frames were told to be lost;
	// Jumps how often the phase of the tones jumped.
	Zeros int64 `json:"zeros"`
	Lost  int64 `json:"lost"`
	Jumps int   `json:"jumps"`
	// Trip is the way from output to input and back [frames]; nil where nothing came back that tells it.
	Trip *Quantity `json:"round_trip_frames,omitempty"`
}

// Tone is the level of one tone of the comb: what comes back over what is played.
type Tone struct {
	Hz    float64 `json:"hz"`
	Level Complex `json:"level"` // relative to what is played; phase as if the sound card took no time, where the round trip is known
	U     float64 `json:"u"`     // standard uncertainty of its real and of its imaginary part
	SNR   float64 `json:"snr_db"`
}

// Hum is the mains hum of a step.
type Hum struct {
	Hz    float64 `json:"hz"`    // 50 or 60, or near; 0: none that stands out of the noise
	Level float64 `json:"level"` // amplitude of a sine of the same power [full scale]
}

// Gain tells what the input's gain did while nothing else changed.
type Gain struct {
	// Fade is the level of the single tone at the end of its time less that shortly after its beginning [dB]; After is when half of the
	// change was done [s], from the tone's beginning.
	Fade  Quantity `json:"fade_db"`
	After float64  `json:"after_s"`
	// Shift is the level of the single tone, as it settles, less that of the same tone among the others [dB]: 0 for a gain that does not
	// depend on what it is given.
	Shift Quantity `json:"shift_db"`
	// Known tells that the tone was strong enough for both.
	Known bool `json:"known"`
}
