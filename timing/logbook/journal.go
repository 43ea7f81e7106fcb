package logbook

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
)

// FileName is the name of the journal in a session folder.
const FileName = "journal.jsonl"

// Journal is what a journal file holds.
type Journal struct {
	Entries []Entry // in the order of the file
	Damaged []DamagedLine

	lines []int // of the entries, counted from 1
	open  bool  // the last line has no newline
	seq   int64 // the highest number taken; a damaged line took the one after those before it
}

// DamagedLine is a line that could not be understood; what it said is lost, unless a person reads it.
type DamagedLine struct {
	Line   int // counts from 1
	Reason string
}

// String names the line and says why: "damaged line 6 (kind is missing)".
func (d DamagedLine) String() string { return fmt.Sprintf("damaged line %d (%s)", d.Line, d.Reason) }

// Read reads the journal of a session folder. Damaged lines are no error; a file that cannot be read is one, and what was
// read before comes with it.
func Read(dir string) (Journal, error) { return ReadContext(context.Background(), dir) }

// ReadContext is Read for who may not want to wait for its end: a context that is done is an error.
func ReadContext(ctx context.Context, dir string) (Journal, error) {
	f, err := openJournal(dir)
	if err != nil {
		return Journal{}, fmt.Errorf("logbook: %w", err)
	}
	defer f.Close()
	return Parse(whileWanted{ctx, f})
}

// whileWanted reads until its context is done.
type whileWanted struct {
	ctx context.Context
	r   io.Reader
}

func (w whileWanted) Read(b []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.r.Read(b)
}

// Parse reads a journal from r. It needs memory for the entries, and never more than 4 MiB for a line.
func Parse(r io.Reader) (Journal, error) {
	var j Journal
	br := bufio.NewReaderSize(r, 64<<10)
	var line []byte
	for n := 1; ; n++ {
		var size int
		var err error
		line, size, err = readLine(br, line[:0])
		if err != nil && !errors.Is(err, io.EOF) {
			return j, fmt.Errorf("logbook: line %d: %w", n, err)
		}
		j.add(n, line, size)
		if err != nil {
			j.open = size > 0
			return j, nil
		}
	}
}

// add takes the n-th line; size is its true length, more than that of line when it is too long.
func (j *Journal) add(n int, line []byte, size int) {
	if size > maxLine {
		j.damaged(n, fmt.Sprintf("got %d bytes, want less than %d", size, maxLine))
		return
	}
	if n == 1 { // an editor may have put a byte order mark before it
		line = bytes.TrimPrefix(line, []byte("\ufeff"))
	}
	if len(bytes.TrimSpace(line)) == 0 {
		return
	}
	e, bad := decode(bytes.TrimRight(line, "\r\n"))
	if bad != nil {
		j.damaged(n, bad.Error())
		return
	}
	j.Entries = append(j.Entries, e)
	j.lines = append(j.lines, n)
	j.seq = max(j.seq, e.Seq)
}

// damaged notes a damaged line; its number is lost with it, but was taken.
func (j *Journal) damaged(line int, reason string) {
	j.Damaged = append(j.Damaged, DamagedLine{line, reason})
	j.seq = min(j.seq+1, maxSeq)
}

// readLine appends the next line, newline included, to buf as long as it fits maxLine; size is its true length.
func readLine(br *bufio.Reader, buf []byte) (line []byte, size int, err error) {
	for {
		part, err := br.ReadSlice('\n')
		size += len(part)
		if size <= maxLine {
			buf = append(buf, part...)
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return buf, size, err
		}
	}
}

// Later returns how many entries a later version of the program wrote, which this one cannot read.
func (j Journal) Later() int {
	n := 0
	for _, e := range j.Entries {
		if _, is := e.Data.(Other); is {
			n++
		}
	}
	return n
}

// Begin returns the first Begin of the journal, and whether there is one.
func (j Journal) Begin() (Begin, bool) {
	for _, e := range j.Entries {
		if b, ok := e.Data.(Begin); ok {
			return b, true
		}
	}
	return Begin{}, false
}

// Current returns the entries with every Amend applied in order; j itself stays as it was. Amendments that cannot be
// applied (no such entry, no such field, a value that does not fit) are left out and reported.
func (j Journal) Current() (entries []Entry, problems []error) {
	entries = append(entries, j.Entries...)
	j.amend(entries, func(_ int, err error) { problems = append(problems, err) })
	return entries, problems
}

// amend applies every Amend to entries, a copy of j.Entries, and reports those that cannot be applied by their index.
func (j Journal) amend(entries []Entry, problem func(at int, err error)) {
	if !slices.ContainsFunc(entries, func(e Entry) bool { _, is := e.Data.(Amend); return is }) {
		return
	}
	at := make(map[int64]int, len(entries))
	for i, e := range entries {
		if a, ok := e.Data.(Amend); ok {
			if err := apply(entries, at, a); err != nil {
				problem(i, fmt.Errorf("logbook: entry %d amends entry %d: %w", e.Seq, a.Seq, err))
			}
		}
		at[e.Seq] = i
	}
}

// apply corrects the entry that a names; at tells where the entries before a stand.
func apply(entries []Entry, at map[int64]int, a Amend) error {
	i, ok := at[a.Seq]
	if !ok {
		return errors.New("there is no such entry before it")
	}
	switch entries[i].Data.(type) {
	case Amend, Other:
		return fmt.Errorf("entries of kind %s are not amended", entries[i].Data.Kind())
	}
	if len(a.To) == 0 || string(a.To) == "null" {
		return fmt.Errorf("field %q: the new value is missing", a.Field)
	}
	raw, err := json.Marshal(entries[i].Data)
	if err != nil {
		return err
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil {
		return err
	}
	fields[a.Field] = a.To
	if raw, err = json.Marshal(fields); err != nil {
		return err
	}
	data, err := decodeData(wire{Schema: Schema, Kind: entries[i].Data.Kind(), Data: raw}, true)
	if err != nil {
		return fmt.Errorf("field %q: %w", a.Field, err)
	}
	entries[i].Data = data
	return nil
}
