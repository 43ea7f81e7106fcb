package cue

import "sync"

// keyQueue holds the keys struck until somebody takes them, however many.
type keyQueue struct {
	out  chan Key
	in   chan Key
	done chan struct{}
	once sync.Once
}

func (q *keyQueue) start() {
	q.out, q.in, q.done = make(chan Key), make(chan Key), make(chan struct{})
	go func() {
		defer close(q.out)
		var waiting []Key
		for {
			var out chan Key
			var next Key
			if len(waiting) > 0 {
				out, next = q.out, waiting[0]
			}
			select {
			case k := <-q.in:
				waiting = append(waiting, k)
			case out <- next:
				waiting = waiting[1:]
			case <-q.done:
				return
			}
		}
	}()
}

func (q *keyQueue) put(k Key) {
	select {
	case q.in <- k:
	case <-q.done:
	}
}

func (q *keyQueue) stop() { q.once.Do(func() { close(q.done) }) }
