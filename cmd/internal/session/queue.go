package session

import (
	"sync/atomic"

	"breakcue/timing/logbook"
)

// Queue is a Journal for whoever must not be held up by the disk: it writes openings, closings and caveats on a goroutine of its
// own.
// Append returns at once from these, with an Entry that has no number; that one could not be written is told by the next
// call, whose own entry is then not written: a reading whose opening is missing would be told not to be in the log, and be
// there. Every other entry is safe when Append returns, and those before it too: the order is kept. It belongs to one
// goroutine.
type Queue struct {
	to     Journal
	jobs   chan job
	ended  chan struct{}
	failed atomic.Pointer[error] // of an entry that nobody waits for
}

// job is an entry to be written; done, if anybody waits, gets what came of it.
type job struct {
	data logbook.Data // nil: nothing, but what was before it is written
	done chan<- written
}

type written struct {
	entry logbook.Entry
	err   error
}

// queueRoom is how many entries may wait: points that open and close twice a second fill it in two minutes.
const queueRoom = 512

// NewQueue returns a Queue that writes to a Journal. It is to be closed.
func NewQueue(to Journal) *Queue {
	q := &Queue{to: to, jobs: make(chan job, queueRoom), ended: make(chan struct{})}
	go q.run()
	return q
}

func (q *Queue) run() {
	defer close(q.ended)
	for j := range q.jobs {
		var w written
		if j.done != nil {
			w.err = q.failure()
		}
		if j.data != nil && w.err == nil {
			w.entry, w.err = q.to.Append(j.data)
		}
		switch {
		case j.done != nil:
			j.done <- w
		case w.err != nil:
			q.failed.CompareAndSwap(nil, &w.err)
		}
	}
}

// Append implements Journal.
func (q *Queue) Append(d logbook.Data) (logbook.Entry, error) {
	switch d.(type) {
	case logbook.Opening, logbook.Closing, logbook.Caveat:
		q.jobs <- job{data: d}
		return logbook.Entry{}, q.failure()
	}
	return q.wait(d)
}

// Wait returns when everything is written.
func (q *Queue) Wait() error {
	_, err := q.wait(nil)
	return err
}

func (q *Queue) wait(d logbook.Data) (logbook.Entry, error) {
	done := make(chan written, 1)
	q.jobs <- job{data: d, done: done}
	w := <-done
	return w.entry, w.err
}

// failure returns the first error that was not told yet.
func (q *Queue) failure() error {
	if err := q.failed.Swap(nil); err != nil {
		return *err
	}
	return nil
}

// Close ends the Queue when everything is written; the Journal stays open.
func (q *Queue) Close() error {
	close(q.jobs)
	<-q.ended
	return q.failure()
}
