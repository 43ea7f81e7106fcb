package cli

import "slices"

// Why an opening is thrown away, and who wants it.
const (
	byHand = "it was no pass"
	who    = "the mechanic"
)

// throwAway takes the newest opening off that counts, and the others of its approach: no reading is taken for them.
func (s *liveSession) throwAway() error {
	id := s.run.hear.newest()
	if id == 0 {
		return nil
	}
	if at := slices.Index(s.ids, id); at >= 0 {
		read, err := s.takeOff(int64(at+1), byHand, who)
		if read {
			s.run.hear.view.Note += readingKept
			s.run.hear.refresh()
		}
		return err
	}
	if s.off == nil {
		s.off = map[int64]bool{}
	}
	s.off[id] = true // it is still on its way to the journal
	s.run.hear.throwAway(id)
	return nil
}

// readingKept is added when an opening had a reading.
const readingKept = "; its reading is kept, but not used"

// takeOff throws the approach of an opening of the journal away, there and on the screen; read tells that it had a reading.
func (s *liveSession) takeOff(opening int64, why, who string) (read bool, err error) {
	thrown, err := s.rec.ThrowAway(opening, s.typist.Place, why, who)
	if err != nil {
		return false, err
	}
	var ids []int64
	for _, o := range thrown.Openings {
		ids = append(ids, s.ids[o.ID-1])
	}
	h := s.run.hear
	h.throwAway(ids...)
	if thrown.Read {
		return true, s.stand(s.typist.Place, "")
	}
	return false, nil
}
