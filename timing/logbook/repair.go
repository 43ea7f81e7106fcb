package logbook

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Repaired says what Repair did.
type Repaired struct {
	Lines []DamagedLine // taken out; none when nothing had to be done
	Kept  string        // file with the journal as it was; empty when nothing had to be done
}

// Repair takes damaged lines out of the journal of a session folder. Every other line stays as it is, byte for byte, and a
// Caveat added last tells what was taken out. The journal as it was is kept beside it, in a file of a name that was not
// there before: journal.jsonl.damaged-1, -2 and so on. A crash at any moment leaves the old journal or the new one, never
// part of one. The error is a *HeldError when the session is being written.
func Repair(dir string, now func() time.Time) (out Repaired, err error) {
	path := filepath.Join(dir, FileName)
	if err := WantFile(path); err != nil {
		return Repaired{}, fmt.Errorf("logbook: repair: %w", err)
	}
	lock, err := takeLock(dir, now())
	if err != nil {
		return Repaired{}, err
	}
	defer func() { err = errors.Join(err, dropLock(lock)) }()
	j, err := Read(dir)
	if err != nil || len(j.Damaged) == 0 {
		return Repaired{}, err
	}
	whole, err := writeWhole(dir, path, j, now())
	if err != nil {
		return Repaired{}, fmt.Errorf("logbook: repair: %w", err)
	}
	defer func() { err = errors.Join(err, ifThere(os.Remove(whole))) }()
	kept, err := keepDamaged(path)
	if err != nil {
		return Repaired{}, fmt.Errorf("logbook: repair: %w", err)
	}
	syncDir(dir) // the name of the copy is safe before the journal is replaced
	if err := os.Rename(whole, path); err != nil {
		return Repaired{}, fmt.Errorf("logbook: repair: %w", err)
	}
	syncDir(dir)
	return Repaired{Lines: j.Damaged, Kept: kept}, nil
}

// writeWhole writes the sound lines of the journal and the caveat into a new file in dir and returns its name.
func writeWhole(dir, path string, j Journal, now time.Time) (name string, err error) {
	in, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	out, err := os.CreateTemp(dir, FileName+".repair-*")
	if err != nil {
		return "", err
	}
	defer func() {
		if err = errors.Join(err, out.Close()); err != nil {
			err = errors.Join(err, os.Remove(out.Name()))
		}
	}()
	if st, err := in.Stat(); err == nil {
		_ = out.Chmod(st.Mode().Perm()) // not every file system has modes
	}
	w := bufio.NewWriter(out)
	if err := copySound(w, in, j.Damaged); err != nil {
		return "", err
	}
	line, err := encode(Entry{Seq: j.seq + 1, Time: now.Truncate(time.Millisecond), Data: repairCaveat(j.Damaged)})
	if err != nil {
		return "", err
	}
	if _, err := w.Write(line); err != nil {
		return "", err
	}
	if err := w.Flush(); err != nil {
		return "", err
	}
	return out.Name(), out.Sync()
}

// copySound copies the lines that are not damaged; the last one gets its newline if it has none.
func copySound(w *bufio.Writer, in io.Reader, damaged []DamagedLine) error {
	br := bufio.NewReaderSize(in, 64<<10)
	var line []byte
	for n := 1; ; n++ {
		var size int
		var err error
		line, size, err = readLine(br, line[:0])
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if len(damaged) > 0 && damaged[0].Line == n {
			damaged = damaged[1:]
		} else if size > 0 {
			_, _ = w.Write(line)
			if err != nil {
				_ = w.WriteByte('\n')
			}
		}
		if err != nil {
			return nil // what w could not take is told by Flush
		}
	}
}

// repairCaveat tells every reader of the figures what is missing.
func repairCaveat(damaged []DamagedLine) Caveat {
	const most = 5
	var lines []string
	for i, d := range damaged {
		if i == most {
			lines = append(lines, fmt.Sprintf("and %d more", len(damaged)-most))
			break
		}
		lines = append(lines, strings.ToValidUTF8(d.String(), "\ufffd"))
	}
	return Caveat{Code: "repaired", Message: "the journal was repaired, what stood in these lines is missing: " + strings.Join(lines, ", ")}
}

// keepDamaged copies the journal to a name that was not there and brings the copy to the disk.
func keepDamaged(path string) (name string, err error) {
	in, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	var out *os.File
	for n := 1; ; n++ {
		name = fmt.Sprintf("%s.damaged-%d", path, n)
		out, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	if err != nil {
		return "", err
	}
	if _, err = io.Copy(out, in); err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err != nil {
		err = errors.Join(err, os.Remove(name)) // part of a journal is no copy of one
	}
	return name, err
}

// ifThere passes over the error of a file that is not there.
func ifThere(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
