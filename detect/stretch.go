package detect

import "math"

// stretch takes the samples block[i], block[i+stride], ... up to the end of the hop, to a sample that is none (an exact zero where
// that is lost sound, NaN or infinite), to a firing of the trigger or to the end of the block, and returns where it stopped.
//
// This is the one loop over samples. It works on copies of what changes with each sample, and is the method in short:
//
//	x  -> less hum, less offset
//	e  =  x - Re(a exp(j w n)), a the level of the present state
//	d  =  Re((b - a) exp(j w n)), b the level of the other state
//	lr =  ((x-ra)^2 - (x-rb)^2) / 2 sigma^2 = d (e - d/2) / sigma^2, 0 for a sample that fits neither state
//	the trigger adds up lr, the lock-in adds up e
//	exp(j w n) turns on
func (d *Detector) stretch(dst []Event, block []float32, i, stride int) ([]Event, int) {
	if d.acc.n == 0 {
		d.track.startHop(d.state)
	}
	t := &d.track
	c, s, cw, sw := t.c, t.s, t.cw, t.sw
	ar, ai, dr, di, inv, gate := t.ar, t.ai, t.dr, t.di, t.inv, t.gate
	testing, listening := t.testing, d.mute == 0
	dc, dcGain := d.dc, d.dcGain
	most := 3 * math.Sqrt(t.noise2)
	zeroIsOpen, hum := d.cfg.ZeroIsOpen, d.hum.on
	sum, from, wilds := d.trig.sum, d.trig.from, d.trig.wild
	ec, es, e2 := d.acc.ec, d.acc.es, d.acc.e2
	n, weight, left := d.n, 0, d.hop-d.acc.n
	fired := false
	for ; i < len(block) && left > 0 && !fired; i += stride {
		raw := block[i]
		if !(raw <= maxSample && raw >= -maxSample) || (raw == 0 && !zeroIsOpen) {
			break
		}
		x := float64(raw)
		if hum {
			x -= d.hum.hum()
		}
		x -= dc
		dc += dcGain * x
		d.ring.push(float32(x))
		e := x - (ar*c - ai*s)
		step := dr*c - di*s
		wild := testing && math.Abs(e) > gate && math.Abs(e-step) > gate
		wilds *= wildFade
		if wild {
			wilds++
			d.acc.addWild(e, c, s)
		} else {
			weight++
			ec += e * c
			es += e * s
			e2 += e * e
		}
		if testing && listening {
			lr := 0.0
			if !wild {
				if lr = step * (e - step/2) * inv; lr > triggerClip {
					lr = triggerClip
				}
			}
			if sum == 0 {
				from = n
			}
			if sum += lr; sum <= 0 || wilds > wildMost {
				sum = 0
			}
			fired = sum > triggerAt
		}
		if hum {
			if testing && !wild && sum <= triggerAt/4 {
				d.hum.learn(e, most)
			}
			d.hum.next()
		}
		c, s = c*cw-s*sw, s*cw+c*sw
		n++
		left--
	}
	t.c, t.s, d.dc = c, s, dc
	d.trig.sum, d.trig.from, d.trig.wild = sum, from, wilds
	d.acc.n += weight
	d.acc.weight += weight
	d.acc.ec, d.acc.es, d.acc.e2 = ec, es, e2
	d.n = n
	switch {
	case fired:
		d.flutter()
		dst = d.change(dst, from, nil)
	case left == 0:
		dst = d.endHop(dst)
	}
	return dst, i
}

// blank takes a sample that is no sound at all: it speaks for neither state.
func (d *Detector) blank(dst []Event) []Event {
	if d.acc.n == 0 {
		d.track.startHop(d.state)
	}
	d.n++
	d.ring.push(0)
	d.acc.gap()
	if d.hum.on {
		d.hum.next()
	}
	d.track.step()
	if d.acc.n == d.hop {
		dst = d.endHop(dst)
	}
	return dst
}
