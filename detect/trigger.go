package detect

// trigger is the cumulative sum test (Page, Biometrika 41, 1954): it adds up the log-likelihood ratio of the other state
// against the present one, never below 0, and fires when the sum passes its threshold. The frame after the last return
// to 0 is the first estimate of the change.
//
// A spike speaks against the present state, too. So the sound must also fit the other state better than a sound foreign to both,
// whose samples lie anywhere within foreignWidth of the distance of the two: a second sum of the same kind, begun with the present
// excursion, adds up ln(foreignWidth D / sqrt(2 pi v)) - (x-rb)^2 / 2v, and must pass fitAt.
type trigger struct {
	sum, fit float64
	from     int64   // first frame of the present excursion
	wild     float64 // samples that fit neither state, fading over the last wildMemory
}

const (
	// triggerAt is chosen for about one false alarm in 1000 h of white noise: exp(26) = 2e11 frames at 48 kHz.
	triggerAt = 26.0
	// triggerClip limits what one sample can say, so that at least three must agree.
	triggerClip = triggerAt / 3 * 1.01
	// triggerMost lets the sum come down again where the sound is foreign to both states for long.
	triggerMost = 2 * triggerAt
	// fitAt allows for a hundred spikes to an opening, of which one in a thousand may pass: ln 1e5.
	fitAt        = 11.5
	foreignWidth = 4.0
	// While about a third of the last samples fit neither state the levels are wrong, and the few that fit one do so by
	// chance: the trigger stays silent and the window decides.
	wildMemory = 12.0 // [samples]
	wildFade   = 1 - 1/wildMemory
	wildMost   = 4.0
	// wildForgotten is so little that another wildMost of wild samples are needed.
	wildForgotten = 0.01
)

func (t *trigger) reset() { t.sum = 0 }

// idle tells that the sum is at 0 and no sample of late was wild.
func (t *trigger) idle() bool { return t.sum == 0 && t.wild == 0 }

// add takes frame n: the log-likelihood ratio lr of the other state against the present one, of which a wild sample says nothing, and
// fit, that of the other state against a foreign sound. It tells whether the trigger fires.
func (t *trigger) add(lr, fit float64, wild bool, n int64) bool {
	if t.wild *= wildFade; wild {
		t.wild++
		lr = 0
	} else if t.wild < wildForgotten {
		t.wild = 0
	}
	if t.sum == 0 {
		t.from, t.fit = n, 0
	}
	t.fit = max(0, t.fit+fit)
	if t.sum = min(t.sum+min(lr, triggerClip), triggerMost); t.sum < 0 || t.wild > wildMost {
		t.sum = 0
	}
	return t.sum > triggerAt && t.fit > fitAt
}

// suspicious tells that a change may be under way, so that the levels had better not follow.
func (t *trigger) suspicious() bool { return t.sum > triggerAt/4 }
