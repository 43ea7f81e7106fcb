package detect

import "math"

// stretch takes the samples block[i], block[i+stride], ... up to the end of the hop, to a sample that is none (an exact zero where
// that is lost sound, NaN or infinite), to a firing of the trigger or to the end of the block, and returns where it stopped.
//
// This is the one loop over samples, and the method in short:
//
//	x  -> less hum, less offset
//	e  =  x - Re(a exp(j w n)), a the level of the present state
//	d  =  Re((b - a) exp(j w n)), b the level of the other state
//	lr =  ((x-ra)^2 - (x-rb)^2) / 2 sigma^2 = d (e - d/2) / sigma^2, 0 for a sample that fits neither state
//	the trigger adds up lr, the lock-in adds up e
//
// exp(j w n) is the phase at the begin of the hop, which the levels of the hop have in them, times a table over the hop.
// Nearly all samples speak for the present state while the trigger is at 0: calm takes these, weigh the others.
func (d *Detector) stretch(dst []Event, block []float32, i, stride int) ([]Event, int) {
	if d.acc.n == 0 {
		d.track.startHop(d.state)
	}
	for d.acc.n < d.hop && i < len(block) && d.isSound(block[i]) {
		if !d.hum.on && d.trig.idle() {
			i = d.calm(block, i, stride)
			if d.acc.n == d.hop || i >= len(block) || !d.isSound(block[i]) {
				break
			}
		}
		fired := d.weigh(float64(block[i]))
		i += stride
		if fired {
			d.flutter()
			return d.change(dst, d.trig.from, nil), i
		}
	}
	if d.acc.n == d.hop {
		dst = d.endHop(dst)
	}
	return dst, i
}

// isSound tells that a sample is neither NaN nor infinite nor absurdly large, and no zero where zeros are lost sound.
func (d *Detector) isSound(x float32) bool {
	return math.Float32bits(x)&^signBit-d.least <= largestBits-d.least
}

// calm takes samples as stretch does, up to one that is none, does not fit, or moves the trigger from 0. There is no hum.
func (d *Detector) calm(block []float32, i, stride int) int {
	t, acc := &d.track, &d.acc
	at := d.n & d.ring.mask
	m := min(d.hop-acc.n, len(d.ring.buf)-int(at), (len(block)-i+stride-1)/stride)
	kept, turns := d.ring.buf[at:][:m], t.turns[acc.n:][:m]
	ar, ai, dr, di, gate, dc := real(t.a), imag(t.a), real(t.d), imag(t.d), t.gate, d.dc
	e1, ec, es, e2 := acc.e1, acc.ec, acc.es, acc.e2
	least, most := d.least, largestBits-d.least
	k := 0
	for ; k < len(turns) && k < len(kept); k++ {
		raw := block[i]
		if math.Float32bits(raw)&^signBit-least > most {
			break
		}
		x := float64(raw) - dc
		c, s := turns[k].c, turns[k].s
		e := x - (ar*c - ai*s)
		step := dr*c - di*s
		if math.Abs(e) > gate || step*(e-step/2) > 0 {
			break
		}
		kept[k] = float32(x)
		e1 += e
		ec += e * c
		es += e * s
		e2 += e * e
		i += stride
	}
	acc.e1, acc.ec, acc.es, acc.e2 = e1, ec, es, e2
	acc.n += k
	acc.weight += k
	d.n += int64(k)
	d.ring.pushed(d.n)
	return i
}

// weigh takes one sample as stretch does, and tells whether the trigger has fired.
func (d *Detector) weigh(x float64) (fired bool) {
	t := &d.track
	at := t.turns[d.acc.n]
	if d.hum.on {
		x = d.hum.off(x)
	}
	x -= d.dc
	d.ring.push(float32(x))
	e := x - (real(t.a)*at.c - imag(t.a)*at.s)
	step := real(t.d)*at.c - imag(t.d)*at.s
	wild := math.Abs(e) > t.gate && math.Abs(e-step) > t.gate
	d.acc.add(e, at, wild)
	if t.testing && d.mute == 0 {
		off := e - step // from the other state
		fired = d.trig.add(step*(e-step/2)*t.inv, t.foreign-off*off*t.inv/2, wild, d.n)
	}
	if d.hum.on {
		if t.testing && !wild && !d.trig.suspicious() {
			d.hum.learn(e, 3*math.Sqrt(t.noise2))
		}
		d.hum.next()
	}
	d.n++
	return fired
}

const signBit = 1 << 31

// largestBits is maxSample as a float32: the bits of numbers from 0 on are ordered as the numbers are, and NaN and infinity lie above.
var largestBits = math.Float32bits(maxSample)

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
	if d.acc.n == d.hop {
		dst = d.endHop(dst)
	}
	return dst
}
