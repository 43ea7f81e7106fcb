package cue

// keyQueue holds the keys struck until somebody takes them, however many there are.
type keyQueue struct {
	out  chan Key      // closed when the last key was taken, or by quit
	in   chan Key      // closed by whoever puts keys in
	quit chan struct{} // closed when nobody takes keys any more
}

func newKeyQueue(quit chan struct{}) keyQueue {
	q := keyQueue{out: make(chan Key), in: make(chan Key), quit: quit}
	go q.run()
	return q
}

func (q keyQueue) run() {
	defer close(q.out)
	var waiting []Key
	in := q.in
	for in != nil || len(waiting) > 0 {
		var out chan Key
		var next Key
		if len(waiting) > 0 {
			out, next = q.out, waiting[0]
		}
		select {
		case k, ok := <-in:
			if !ok {
				in = nil
				continue
			}
			waiting = append(waiting, k)
		case out <- next:
			waiting = waiting[1:]
		case <-q.quit:
			return
		}
	}
}

func (q keyQueue) put(k Key) {
	select {
	case q.in <- k:
	case <-q.quit:
	}
}
