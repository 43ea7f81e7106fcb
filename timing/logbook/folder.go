package logbook

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// DefaultRoot returns the folder in which sessions are kept when nothing else is said; it may not exist yet.
//
//	Windows   %LocalAppData%\breakcue\sessions
//	macOS     $HOME/Library/Application Support/breakcue/sessions
//	others    $XDG_DATA_HOME/breakcue/sessions, or $HOME/.local/share/breakcue/sessions (XDG Base Directory Specification;
//	          it says that a relative XDG_DATA_HOME is to be ignored)
func DefaultRoot(getenv func(string) string) (string, error) { return rootFor(runtime.GOOS, getenv) }

func rootFor(goos string, getenv func(string) string) (string, error) {
	base, under := "HOME", filepath.Join(".local", "share")
	switch {
	case goos == "windows":
		base, under = "LocalAppData", ""
	case goos == "darwin":
		under = filepath.Join("Library", "Application Support")
	case filepath.IsAbs(getenv("XDG_DATA_HOME")):
		base, under = "XDG_DATA_HOME", ""
	}
	if getenv(base) == "" {
		return "", fmt.Errorf("logbook: folder for sessions, got no %s in the environment, want its path", base)
	}
	return filepath.Join(getenv(base), under, "breakcue", "sessions"), nil
}

// folderName returns the name of a session folder, safe on every file system: date, time and the ASCII letters and digits
// of name.
func folderName(name string, t time.Time) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case b.Len() >= 40:
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	short := strings.Trim(b.String(), "-")
	if short == "" {
		short = "session"
	}
	return t.Format("2006-01-02-1504") + "-" + short
}

// makeDir makes a folder that did not exist before: root/name, or root/name-2 and so on.
func makeDir(root, name string) (string, error) {
	dir := filepath.Join(root, name)
	for n := 2; ; n++ {
		err := os.Mkdir(dir, 0o755)
		if !errors.Is(err, fs.ErrExist) {
			return dir, err
		}
		dir = filepath.Join(root, fmt.Sprintf("%s-%d", name, n))
	}
}
