package wav

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The chunks after "Multimedia Programming Interface and Data Specifications 1.0" (1991: RIFF, JUNK) and "New Multimedia
// Data Types and Data Techniques" (1994: cue, adtl, labl), from memory; the slots are 104 bytes: 24 for the lists
// without points, 72 for one point with its label, 8 for the JUNK chunk that fills them.
func TestBytesOfTheRoom(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := Create(path, Spec{SampleRate: 48000, Channels: 1, Room: 1})
	require.NoError(t, err)
	defer w.Close()
	zeros := func(n int) string { return strings.Repeat("00", n) }
	const format = `"fmt " 10000000 0100 0100 80bb0000 00770100 0200 1000 `
	look := func(name, want string) {
		got, err := os.ReadFile(path)
		require.NoError(t, err)
		wanted := unhex(t, want)
		assert.Equal(t, hex.Dump(wanted), hex.Dump(got), name)
		// The JUNK chunks end where the data starts.
		assert.Equal(t, uint32(len(wanted)-8), le.Uint32(wanted[4:]), "the dump is right itself")
	}
	look("empty", `"RIFF" 20010000 "WAVE"`+junk+format+`"JUNK" d0000000`+zeros(208)+`"data" 00000000`)

	require.NoError(t, w.Write([]float32{0.5, -1}))
	require.NoError(t, w.Mark(1, "open 1"))
	require.NoError(t, w.Sync())
	lists := `"cue " 1c000000 01000000 01000000 01000000 "data" 00000000 00000000 01000000
		"LIST" 18000000 "adtl" "labl" 0b000000 01000000 "open 1" 00 00 `
	look("in the first slot", `"RIFF" 24010000 "WAVE"`+junk+format+`"JUNK" 00000000`+lists+`"JUNK" 84000000`+zeros(0x84)+
		`"data" 04000000 0040 0080`)

	require.NoError(t, w.Mark(0, ""))
	require.NoError(t, w.Close())
	two := `"cue " 34000000 02000000 01000000 01000000 "data" 00000000 00000000 01000000
		02000000 00000000 "data" 00000000 00000000 00000000 "LIST" 18000000 "adtl" "labl" 0b000000 01000000 "open 1" 00 00 `
	// 24 bytes are left of a slot with one label of 7 bytes in place of 36: a second point without a label fits.
	look("in the second", `"RIFF" 24010000 "WAVE"`+junk+format+`"JUNK" 68000000`+lists+`"JUNK" 84000000`+zeros(104-76)+
		two+`"JUNK" 04000000`+zeros(4)+`"data" 04000000 0040 0080`)
}

// discs keeps what a file holds after each write, and in the middle of those that are not of the header.
type discs struct {
	start int64 // of the samples
	now   []byte
	seen  func(file []byte, torn bool)
}

func (d *discs) put(p []byte, off int64) {
	if grown := off + int64(len(p)); grown > int64(len(d.now)) {
		d.now = append(d.now, make([]byte, grown-int64(len(d.now)))...)
	}
	copy(d.now[off:], p)
}

func (d *discs) WriteAt(p []byte, off int64) (int, error) {
	// The header and that of the data lie within one sector of a disk and one page of memory each.
	header := off == 0 || off == d.start-chunkHeader
	if !header {
		for _, part := range []int{1, len(p) / 2, len(p) - 1} {
			if part > 0 && part < len(p) {
				d.put(p[:part], off)
				d.seen(d.now, true)
			}
		}
	}
	d.put(p, off)
	d.seen(d.now, false)
	return len(p), nil
}

func (d *discs) Truncate(size int64) error { d.now = d.now[:size]; return nil }
func (d *discs) Sync() error               { return nil }
func (d *discs) Close() error              { return nil }

// At whatever write a recording is cut, a reader gets all samples and all cue points of the last Sync.
func TestCutAnywhere(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		spec := Spec{
			SampleRate: rapid.IntRange(20, 300).Draw(r, "rate"),
			Channels:   rapid.IntRange(1, 3).Draw(r, "channels"),
			Encoding:   Encoding(rapid.IntRange(0, 2).Draw(r, "encoding")),
			Room:       rapid.IntRange(0, 6).Draw(r, "room"),
		}
		samples, marks := []float32{}, []Cue{}
		var synced, held int // samples and marks that are safe
		var closing bool
		d := &discs{}
		begun := false
		d.seen = func(file []byte, torn bool) {
			if !begun { // Create has not returned
				return
			}
			src, err := NewReader(bytes.NewReader(file))
			require.NoError(r, err)
			before := src.Cues()
			got, err := readAll(src, 64)
			require.Equal(r, io.EOF, err)
			cues := src.Cues()
			require.GreaterOrEqual(r, len(got), synced)
			require.GreaterOrEqual(r, len(cues), held)
			require.LessOrEqual(r, len(cues), len(marks))
			require.Equal(r, marks[:held], append([]Cue{}, cues[:held]...), "each once")
			// The others are those of the Sync that is under way, or of Close behind the data. Only these can be torn.
			for i, c := range cues[held:] {
				require.Equal(r, marks[held+i].Frame, c.Frame)
				require.True(r, strings.HasPrefix(marks[held+i].Label, c.Label))
				require.True(r, torn || c.Label == marks[held+i].Label)
			}
			if !closing {
				require.Equal(r, before, cues)
			}
			if synced > 0 { // a header that declares nothing stands for a length that is not known
				require.LessOrEqual(r, len(got), len(samples))
				require.Equal(r, samples[:len(got)], append([]float32{}, got...))
			}
		}
		w := newWriter(d, "x.wav", spec)
		d.start = w.start
		require.NoError(r, w.begin())
		begun = true
		safe := func() { // what must be safe after a Sync
			synced, held = int(w.synced)*spec.Channels, w.room.held
		}
		actions := rapid.SliceOfN(rapid.SampledFrom([]string{"write", "write", "mark", "mark", "sync"}), 0, 30).Draw(r, "actions")
		for _, action := range actions {
			switch action {
			case "write":
				block := make([]float32, rapid.IntRange(0, 200).Draw(r, "block")*spec.Channels)
				for i := range block {
					block[i] = float32((len(samples)+i)%256-128) / 128
				}
				samples = append(samples, block...)
				require.NoError(r, w.Write(block))
			case "mark":
				m := Cue{
					Frame: rapid.Int64Range(0, w.Frames()).Draw(r, "frame"),
					Label: rapid.StringMatching("[a-z]{0,40}").Draw(r, "label"),
				}
				marks = append(marks, m)
				require.NoError(r, w.Mark(m.Frame, m.Label))
			case "sync":
				require.NoError(r, w.Sync())
				require.Equal(r, w.Frames(), w.synced)
			}
			safe()
		}
		require.NoError(r, w.Sync())
		safe()
		short := 0 // marks before the first label that is too long for its place
		for short < len(marks) && len(marks[short].Label) < roomLabel {
			short++
		}
		require.GreaterOrEqual(r, held, min(short, spec.Room), "as many as were promised")
		closing = true
		require.NoError(r, w.Close())

		src, err := NewReader(bytes.NewReader(d.now))
		require.NoError(r, err)
		before := src.Cues()
		got, err := readAll(src, 64)
		require.Equal(r, io.EOF, err)
		if len(samples) > 0 {
			require.Equal(r, samples, got)
		}
		require.Equal(r, marks, append([]Cue{}, src.Cues()...), "each once")
		require.Contains(r, []int{0, len(marks)}, len(before), "all in one place")
	})
}

func TestRoomOfALongRecording(t *testing.T) {
	path := filepath.Join(t.TempDir(), "long.wav")
	w, err := Create(path, Spec{SampleRate: 192000, Channels: 1, Encoding: PCM24, Room: 2})
	require.NoError(t, err)
	const before = 3<<30/3*2 - 1 // a hole of nearly 6 GiB stands for samples written before
	w.data, w.frames, w.synced = 3*before, before, before
	require.NoError(t, w.Write([]float32{0.5, -0.25, 0.125}))
	require.NoError(t, w.Mark(before+1, "open"))
	look := func(want []Cue) {
		r, err := Open(path)
		require.NoError(t, err)
		defer r.Close()
		assert.Equal(t, int64(before+3), r.Format().Frames)
		assert.Equal(t, want, r.Cues())
	}
	look2 := func() *Reader { // read behind the hole
		r, err := Open(path)
		require.NoError(t, err)
		_, err = r.file.(*os.File).Seek(w.start+3*before, io.SeekStart)
		require.NoError(t, err)
		r.in.lo, r.in.hi, r.left = 0, 0, 9
		got, err := readAll(r, 2)
		assert.Equal(t, io.EOF, err)
		assert.Equal(t, []float32{0.5, -0.25, 0.125}, got)
		return r
	}
	require.NoError(t, w.Sync())
	look([]Cue{{before + 1, "open"}})
	require.NoError(t, look2().Close())
	marks := []Cue{{before + 1, "open"}, {before + 2, strings.Repeat("x", 100)}}
	require.NoError(t, w.Mark(marks[1].Frame, marks[1].Label))
	require.NoError(t, w.Close())
	look(nil)
	r := look2()
	assert.Equal(t, marks, r.Cues())
	require.NoError(t, r.Close())
}

// A disk that is full keeps the cue points too: their room was there from the start.
func TestFullDiskKeepsCues(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.wav")
	f, err := os.Create(path)
	require.NoError(t, err)
	spec := Spec{SampleRate: 1000, Channels: 1, Room: 2}
	w := newWriter(&fullDisk{f, 80 + 8 + 2*(32+2*72) + 3001}, path, spec)
	require.NoError(t, w.begin())
	require.NoError(t, w.Write(make([]float32, 1200)))
	marks := []Cue{{7, "open"}, {1100, "closed"}, {1150, strings.Repeat("x", 100)}}
	for _, m := range marks {
		require.NoError(t, w.Mark(m.Frame, m.Label))
	}
	err = w.Write(make([]float32, 1000))
	require.ErrorIs(t, err, syscall.ENOSPC)
	var lost *WriteError
	require.ErrorAs(t, err, &lost)
	assert.Equal(t, int64(1500), lost.Saved)
	assert.Equal(t, 2, lost.Cues)
	assert.ErrorContains(t, err, "saved 1500 frames (1.5s), cue points: 2: ")
	assert.Equal(t, err, w.Close())
	r, err := Open(path)
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, int64(1500), r.Format().Frames)
	assert.Equal(t, marks[:2], r.Cues())
}

// A disk that fills up while Close moves the cue points leaves those that are in the room.
func TestFullDiskAtTheMove(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.wav")
	f, err := os.Create(path)
	require.NoError(t, err)
	w := newWriter(&fullDisk{f, 80 + 8 + 2*(32+72) + 200}, path, Spec{SampleRate: 1000, Channels: 1, Room: 1})
	require.NoError(t, w.begin())
	require.NoError(t, w.Write(make([]float32, 90)))
	require.NoError(t, w.Mark(7, "open"))
	require.NoError(t, w.Mark(8, "closed"))
	err = w.Close()
	assert.ErrorIs(t, err, syscall.ENOSPC)
	assert.ErrorContains(t, err, "saved 90 frames (90ms), cue points: 1: ")
	r, err := Open(path)
	require.NoError(t, err)
	defer r.Close()
	got, err := readAll(r, 64)
	assert.Equal(t, io.EOF, err)
	assert.Len(t, got, 90)
	assert.Equal(t, []Cue{{7, "open"}}, r.Cues())
}

func TestCreateOnAFullDisk(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "x.wav"))
	require.NoError(t, err)
	w := newWriter(&fullDisk{f, 500}, f.Name(), Spec{SampleRate: 1000, Channels: 1, Room: 100})
	var pathErr *fs.PathError
	err = w.begin()
	assert.ErrorAs(t, err, &pathErr)
	assert.ErrorContains(t, err, "saved 0 frames (0s): ")
	assert.Equal(t, err, w.Close())
}

// The room is written at once, not left as a hole, for which a disk that has filled up would have no space.
func TestRoomIsNoHole(t *testing.T) {
	d := &discs{seen: func([]byte, bool) {}}
	w := newWriter(d, "x.wav", Spec{SampleRate: 1000, Channels: 1, Room: 3})
	d.now = bytes.Repeat([]byte{0xff}, int(w.start))
	require.NoError(t, w.begin())
	assert.Len(t, d.now, int(w.start))
	assert.NotContains(t, d.now, byte(0xff))
}

func BenchmarkMark(b *testing.B) {
	w := newWriter(&discs{}, "x.wav", Spec{SampleRate: 48000, Channels: 1, Room: 1000})
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		if i%1000 == 0 {
			w.cues, w.room = w.cues[:0], newRoom(w.spec.slotBytes())
		}
		if err := w.Mark(int64(i), "points open 1"); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSyncFullRoom writes a list of 1000 cue points, as the Sync after the last of so many does.
func BenchmarkSyncFullRoom(b *testing.B) {
	f, err := os.Create(filepath.Join(b.TempDir(), "x.wav"))
	require.NoError(b, err)
	w := newWriter(f, f.Name(), Spec{SampleRate: 48000, Channels: 1, Room: 1000})
	defer w.Close()
	require.NoError(b, w.begin())
	for i := range 1000 {
		require.NoError(b, w.Mark(int64(i), fmt.Sprintf("points open %d", i)))
	}
	b.ReportAllocs()
	for b.Loop() {
		w.room.held = 0
		if err := w.Sync(); err != nil {
			b.Fatal(err)
		}
	}
}
