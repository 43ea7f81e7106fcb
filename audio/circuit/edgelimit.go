package circuit

import "math"

// EdgeLimit returns how exactly one opening can be timed at the very best [s, root mean square]: the error of the maximum-likelihood
// change point, for a hard edge in white noise, 48,000 frames a second, the tone's frequency known, amplitude and phase before and
// after unknown. q is the power of the difference of the two levels over that of the noise in the whole band, more than 0: the
// distance squared times the larger level's SNR. f is the tone [Hz], more than 0. No other number of the two levels matters: whether
// the tone falls, turns or both, the errors lie on one curve.
//
// The curve is read off a Monte Carlo of 10,000 trials a point, between its points by straight lines in logarithms, to about a
// tenth; tones below 400 Hz and above 3 kHz are taken as these, q above 1e6 as 1e6. Below 0.085 the error goes on as 1/q.
// It returns +Inf for q = 0 and NaN for NaN.
func EdgeLimit(q, f float64) float64 {
	curve := [...]point{{0.0853, 1288}, {0.1702, 658}, {0.2488, 435}, {0.4965, 226}, {1, 127}, {2, 79}, {4, 54}, {10, 32}, {24.9, 19},
		{100, 9.4}, {1000, 3.3}, {1e4, 1.7}, {1e6, 0.7}}
	// By how much the error is larger at 400 Hz than at 1 kHz, and at 3 kHz.
	low := [...]point{{1, 178. / 127}, {2, 122. / 79}, {10, 52. / 32}, {100, 15.5 / 9.4}, {1e4, 1}}
	high := [...]point{{1, 107. / 127}, {2, 57. / 79}, {10, 19. / 32}, {100, 5.8 / 9.4}, {1e4, 1}}
	us := along(curve[:], q)
	if q < curve[0].x {
		us *= curve[0].x / q
	}
	if f < 1000 {
		us *= along([]point{{400, along(low[:], q)}, {1000, 1}}, f)
	} else {
		us *= along([]point{{1000, 1}, {3000, along(high[:], q)}}, f)
	}
	return us * 1e-6
}

// point is one of a curve whose x rise; both are more than 0.
type point struct{ x, y float64 }

// along returns the height of a curve at x, by straight lines in logarithms; beyond its ends that of the end.
func along(curve []point, x float64) float64 {
	if x <= curve[0].x {
		return curve[0].y
	}
	for i := 1; i < len(curve); i++ {
		a, b := curve[i-1], curve[i]
		if x <= b.x {
			return a.y * math.Pow(b.y/a.y, math.Log(x/a.x)/math.Log(b.x/a.x))
		}
	}
	if math.IsNaN(x) {
		return x
	}
	return curve[len(curve)-1].y
}
