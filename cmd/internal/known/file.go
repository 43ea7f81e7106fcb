package known

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// File is what is kept in mind. Names are as live.Device gives them; bytes that are no UTF-8 become U+FFFD.
type File struct {
	// Last is the name of the device that was used last; empty: none yet.
	Last string

	confirmed []string // sorted, each once
	path      string   // empty when there is no place to keep it
}

// Load reads the file of the user whose environment getenv reads. Without a file everything is new. The File is not nil
// even with an error, and empty then. A file that cannot be understood is moved aside; the error says where.
func Load(getenv func(string) string) (*File, error) {
	path, err := pathFor(runtime.GOOS, getenv)
	if err != nil {
		return &File{}, err
	}
	f, err := load(path)
	if err != nil {
		return &File{path: path}, err
	}
	return f, nil
}

// Confirmed tells that somebody has agreed to hear a tone on the device.
func (f *File) Confirmed(device string) bool {
	return slices.Contains(f.confirmed, valid(device))
}

// Confirm notes that somebody has agreed to hear a tone on the device. An empty name is nobody's and is not noted.
func (f *File) Confirm(device string) {
	if device != "" && !f.Confirmed(device) {
		f.confirmed = append(f.confirmed, valid(device))
		slices.Sort(f.confirmed)
	}
}

// Save writes the file. It takes the place of the old one in one step: whoever reads at that moment, or after a crash,
// finds the one or the other, whole. What other processes have noted since Load is kept; when two save in the very same
// moment, the notes of one of them may be missing.
func (f *File) Save() error {
	if f.path == "" {
		return fmt.Errorf("known: save, got no folder for settings, want one")
	}
	newest, damage := load(f.path)
	if newest == nil {
		return damage
	}
	for _, device := range newest.confirmed {
		f.Confirm(device)
	}
	if f.Last == "" {
		f.Last = newest.Last
	}
	if err := Replace(f.path, f.encode()); err != nil {
		return fmt.Errorf("known: save: %w", err)
	}
	return damage
}

// load reads the file at path; a missing one is empty. A damaged one is moved aside and told, and is empty too. With
// every other error the File is nil.
func load(path string) (*File, error) {
	empty := &File{path: path}
	data, err := os.ReadFile(path)
	switch {
	case os.IsNotExist(err):
		return empty, nil
	case err != nil:
		return nil, fmt.Errorf("known: %w", err)
	}
	f, wrong := decode(data)
	if wrong == nil {
		f.path = path
		return f, nil
	}
	aside, err := MoveAside(path)
	if err != nil {
		return nil, fmt.Errorf("known: %s: %w; cannot move it aside: %w", path, wrong, err)
	}
	return empty, fmt.Errorf("known: %s: %w; moved to %s, start with an empty one", path, wrong, aside)
}

// MoveAside renames the file to a name that is not taken, and returns that.
func MoveAside(path string) (string, error) {
	aside := path + ".damaged"
	for n := 2; ; n++ {
		if _, err := os.Lstat(aside); err != nil {
			break
		}
		aside = fmt.Sprintf("%s.damaged-%d", path, n)
	}
	return aside, os.Rename(path, aside)
}

// Replace writes data to the disk beside path and then puts it in path's place, in one step. Nobody but the user may read the file.
func Replace(path string, data []byte) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".tmp-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// pathFor returns where the file is kept:
//
//	Windows   %AppData%\breakcue\known.json
//	others    $XDG_CONFIG_HOME/breakcue/known.json, or $HOME/.config/breakcue/known.json (XDG Base Directory Specification;
//	          it says that a relative XDG_CONFIG_HOME is to be ignored)
func pathFor(goos string, getenv func(string) string) (string, error) {
	base, under := "HOME", ".config"
	switch {
	case goos == "windows":
		base, under = "AppData", ""
	case filepath.IsAbs(getenv("XDG_CONFIG_HOME")):
		base, under = "XDG_CONFIG_HOME", ""
	}
	if getenv(base) == "" {
		return "", fmt.Errorf("known: folder for settings, got no %s in the environment, want its path", base)
	}
	return filepath.Join(getenv(base), under, "breakcue", "known.json"), nil
}

func valid(name string) string { return strings.ToValidUTF8(name, "\ufffd") }

// Folder returns the user's folder for the settings of the program, with the environment that getenv reads. It need not be there.
func Folder(getenv func(string) string) (string, error) {
	path, err := pathFor(runtime.GOOS, getenv)
	if err != nil {
		return "", err
	}
	return filepath.Dir(path), nil
}
