package profiles

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"breakcue/cmd/internal/known"
)

// Store is the folder of the profiles; the zero Store is no folder, in which nothing is found.
type Store struct{ dir string }

// Open returns the Store of the user whose environment getenv reads. The folder need not be there. The error says that there is no place for it.
func Open(getenv func(string) string) (Store, error) {
	dir, err := known.Folder(getenv)
	if err != nil {
		return Store{}, fmt.Errorf("profiles: %w", err)
	}
	return Store{filepath.Join(dir, "cables")}, nil
}

// Save writes a profile in the place of an older one of the same device and wiring, in one step, and returns the name of its file.
func (s Store) Save(k Kept) (path string, err error) {
	if s.dir == "" {
		return "", errors.New("profiles: save, got no folder for settings, want one")
	}
	path = filepath.Join(s.dir, fileName(k))
	return path, Write(path, k)
}

// Write writes a profile to a file, in one step, in the place of one that is there.
func Write(path string, k Kept) error {
	data, err := encode(k)
	if err == nil {
		err = known.Replace(path, data)
	}
	if err != nil {
		return fmt.Errorf("profiles: save %s: %w", path, err)
	}
	return nil
}

// most is more than any profile has [bytes].
const most = 1 << 20

// Read reads a profile from a file. What is no file to be read to its end, a device or a pipe, is refused before it is opened: a pipe would
// hold up whoever opens it.
func Read(path string) (Kept, error) {
	data, err := content(path)
	if err != nil {
		return Kept{}, fmt.Errorf("profiles: %w", err)
	}
	k, err := Kept{}, fmt.Errorf("got more than %d bytes, want a profile", most)
	if len(data) <= most {
		k, err = decode(data)
	}
	if err != nil {
		return Kept{}, fmt.Errorf("profiles: %s: %w", path, err)
	}
	return k, nil
}

// content is what stands in a file, or more than most bytes of it.
func content(path string) ([]byte, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() {
		return nil, &os.PathError{Op: "read", Path: path, Err: errors.New("got a folder, a device or a pipe, want a file")}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most+1))
}

// All returns the profiles, the newest first; none where there is no folder. A file that cannot be understood is moved aside; the error
// says where, for all of them, and the others are returned all the same.
func (s Store) All() (list []Kept, err error) {
	if s.dir == "" {
		return nil, nil
	}
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		if os.IsNotExist(err) {
			return nil, nil
		}
		return nil, fmt.Errorf("profiles: %w", err)
	}
	for _, e := range entries {
		if filepath.Ext(e.Name()) != ".json" {
			continue
		}
		path := filepath.Join(s.dir, e.Name())
		k, wrong := Read(path)
		switch {
		case wrong == nil:
			list = append(list, k)
		case errors.As(wrong, new(*os.PathError)):
			err = errors.Join(err, wrong)
		default:
			err = errors.Join(err, aside(path, wrong))
		}
	}
	slices.SortStableFunc(list, func(a, b Kept) int { return b.Profile.Made.Compare(a.Profile.Made) })
	return list, err
}

// aside moves a file that cannot be understood out of the way.
func aside(path string, wrong error) error {
	to, err := known.MoveAside(path)
	if err != nil {
		return fmt.Errorf("%w; cannot move it aside: %w", wrong, err)
	}
	return fmt.Errorf("%w; moved to %s, the levels are learnt instead", wrong, to)
}

// fileName is that of the file for a device and wiring: some of the device's letters, for people, and a sum of all of it.
func fileName(k Kept) string {
	letters := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r - 'A' + 'a'
		}
		return '-'
	}, k.Device)
	letters = strings.Trim(letters[:min(len(letters), 24)], "-")
	sum := fnv.New32a()
	_, _ = sum.Write([]byte(valid(k.Device)))
	return fmt.Sprintf("%s-%08x-%s.json", letters, sum.Sum32(), k.Profile.Wiring)
}
