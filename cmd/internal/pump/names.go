package pump

// names gives the events of a Detector, whose IDs count from 1, IDs of the stream, in which others come in between.
type names struct {
	seen int64           // highest ID of the Detector so far
	name map[int64]int64 // of events on their way
}

// of returns the stream's ID of an event; a new one is the next after newest. last tells that the event does not come again.
func (n *names) of(id int64, newest *int64, last bool) int64 {
	if n.name == nil {
		n.name = map[int64]int64{}
	}
	for n.seen < id {
		n.seen++
		*newest++
		n.name[n.seen] = *newest
	}
	name := n.name[id]
	if last {
		delete(n.name, id)
	}
	return name
}
