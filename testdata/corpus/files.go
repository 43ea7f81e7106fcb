package corpus

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// WriteFiles writes the recording to a folder, as a 16-bit WAV file called Truth.File and its truth beside it as JSON, in the place of such as are
// there. It returns the path of the WAV file. Like Each, once only. It has no need of the crash-safe recorder in audio/wav, which brings every
// second of sound to the disk: that would take longer than all else.
func (t *Take) WriteFiles(folder string) (string, error) {
	path := filepath.Join(folder, t.Truth.File)
	f, err := os.Create(path)
	if err != nil {
		return path, err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	if err := errors.Join(t.writeWAV(w), w.Flush(), f.Close()); err != nil {
		return path, err
	}
	b, err := json.MarshalIndent(t.Truth, "", " ")
	if err != nil {
		return path, err
	}
	return path, os.WriteFile(strings.TrimSuffix(path, ".wav")+".json", append(b, '\n'), 0o666)
}

// writeWAV writes the header, 44 bytes, and the samples (Microsoft and IBM, Multimedia Programming Interface and Data Specifications 1.0, 1991, from
// memory).
func (t *Take) writeWAV(w io.Writer) error {
	le := binary.LittleEndian
	bytes := uint32(t.Truth.Frames) * uint32(t.Channels) * 2
	h := le.AppendUint32([]byte("RIFF"), 36+bytes)
	h = le.AppendUint32(append(h, "WAVEfmt "...), 16)
	h = le.AppendUint16(h, 1) // PCM
	h = le.AppendUint16(h, uint16(t.Channels))
	h = le.AppendUint32(h, uint32(t.Truth.Rate))
	h = le.AppendUint32(h, uint32(t.Truth.Rate*t.Channels*2))
	h = le.AppendUint16(h, uint16(t.Channels*2))
	h = le.AppendUint16(h, 16)
	h = le.AppendUint32(append(h, "data"...), bytes)
	if _, err := w.Write(h); err != nil {
		return err
	}
	var b []byte
	return t.Each(func(block []float32) error {
		b = b[:0]
		for _, x := range block {
			b = le.AppendUint16(b, uint16(int16(x*32768)))
		}
		_, err := w.Write(b)
		return err
	})
}
