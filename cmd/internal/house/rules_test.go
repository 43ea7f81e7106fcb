package house

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTopLevel keeps the top of the tree as small as it is. Hidden files and what .gitignore names are not looked at.
func TestTopLevel(t *testing.T) {
	want := []string{"DEVELOPERS.md", "LICENSE", "Makefile", "README.md", "audio", "cmd", "detect", "go.mod", "go.sum", "testdata", "timing"}
	names, err := os.ReadDir(root)
	require.NoError(t, err)
	var got []string
	for _, n := range names {
		ignored := slices.Contains([]string{"bin", "sessions"}, n.Name()) || regexp.MustCompile(`^\.|\.(test|prof)$`).MatchString(n.Name())
		if !ignored {
			got = append(got, n.Name())
		}
	}
	assert.Equal(t, want, got)
}

// TestFilesAreShort keeps one concept to a file: about 200 lines, never above 450.
func TestFilesAreShort(t *testing.T) {
	for file := range goFiles(t) {
		assert.LessOrEqual(t, strings.Count(read(t, file), "\n"), 450, file)
	}
}

// TestNothingUnfinished finds notes of work left over, tests that are passed over, and tests that wait for the clock.
func TestNothingUnfinished(t *testing.T) {
	leftover := regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME|XX` + `X)\b|\b[tb]\.Skip(f|Now)?\(`)
	waits := regexp.MustCompile(`\btime\.(Sleep|After|Tick)\(`)
	for file := range goFiles(t) {
		text := read(t, file)
		assert.Empty(t, leftover.FindString(text), file)
		if strings.HasSuffix(file, "_test.go") {
			assert.Empty(t, waits.FindString(text), file)
		}
	}
}

func read(t *testing.T, file string) string {
	b, err := os.ReadFile(filepath.Join(root, file))
	require.NoError(t, err)
	return string(b)
}
