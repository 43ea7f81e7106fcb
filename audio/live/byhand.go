package live

import "time"

// ByHand returns a Stream without a device, for tests and benchmarks: each call of callback is what a driver's would be, with whole
// frames of as many channels in and out, both interleaved. Errors: options out of their range; a pipe that cannot be had.
func ByHand(o Options, rate, inputs, outputs int) (s *Stream, callback func(in, out []float32), err error) {
	if err := o.check(); err != nil {
		return nil, nil, err
	}
	e, err := newEngine(o, rate, inputs, outputs)
	if err != nil {
		return nil, nil, err
	}
	s = newStream(e, Info{Input: "by hand", Output: "by hand"}, func(bool) error { return nil })
	return s, func(in, out []float32) { e.process(in, out, false, time.Now()) }, nil
}
