package corpus

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
)

// encode sends a mono recording through a lossy codec and back by ffmpeg; the truth stays that before the codec. args choose the codec, the
// last one is the name of the file, whose ending chooses the container.
func (t *Take) encode(args []string) error {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "corpus")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	var in bytes.Buffer
	for _, v := range t.Samples() {
		in.Write(binary.LittleEndian.AppendUint16(nil, uint16(int16(v*32768))))
	}
	raw := []string{"-f", "s16le", "-ar", strconv.Itoa(t.Truth.Rate), "-ac", "1"}
	file := filepath.Join(dir, args[len(args)-1])
	run := func(args ...string) ([]byte, error) {
		cmd := exec.Command(ffmpeg, append([]string{"-nostdin", "-hide_banner", "-loglevel", "error", "-bitexact"}, args...)...)
		var said bytes.Buffer
		cmd.Stdin, cmd.Stderr = &in, &said
		out, err := cmd.Output()
		if err != nil {
			return nil, fmt.Errorf("corpus: ffmpeg %v: %w: %s", args, err, bytes.TrimSpace(said.Bytes()))
		}
		return out, nil
	}
	coding := append(append(raw[:len(raw):len(raw)], "-i", "-"), args[:len(args)-1]...)
	if _, err := run(append(coding, file)...); err != nil {
		return err
	}
	out, err := run(append(append([]string{"-i", file}, raw...), "-")...)
	if err != nil {
		return err
	}
	t.done = make([]float32, t.Truth.Frames) // what the codec cuts off at the end is silence
	for i := range min(len(t.done), len(out)/2) {
		t.done[i] = float32(int16(binary.LittleEndian.Uint16(out[2*i:]))) / 32768
	}
	return nil
}
