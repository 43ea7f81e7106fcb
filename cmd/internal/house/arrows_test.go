package house

import (
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	module = "breakcue/"
	root   = "../../.."
)

// arrows says which of our packages each package may import. A new package gets its line here.
var arrows = map[string][]string{
	"audio":                       {},
	"audio/wav":                   {"audio"},
	"audio/live":                  {"audio"},
	"audio/circuit":               {},
	"audio/circuit/testdata/grid": {},
	"audio/bench":                 {"audio", "audio/circuit"},
	"audio/audiotest":             {"audio"},

	"detect": {},

	"timing":          {},
	"timing/handturn": {"timing"},
	"timing/sheet":    {"timing"},
	"timing/logbook":  {"timing"},

	"cmd/breakcue":         {"cmd/internal/cli"},
	"cmd/internal/cli":     {everything},
	"cmd/internal/pump":    {"audio", "audio/wav", "detect"},
	"cmd/internal/session": {"audio", "cmd/internal/pump", "detect", "timing", "timing/sheet", "timing/logbook"},
	"cmd/internal/cables":  {"audio/circuit"},
	"cmd/internal/leads":   {"audio", "cmd/internal/pump", "detect", "audio/circuit"},
	"cmd/internal/cue":     {},
	"cmd/internal/awake":   {},
	"cmd/internal/known":   {},
	"cmd/internal/page":    {"cmd/internal/cue"},
	"cmd/internal/report":  {"timing", "timing/logbook", "cmd/internal/session"},
	"cmd/internal/house":   {},

	"cmd/internal/profiles": {"cmd/internal/known", "cmd/internal/leads"},
}

const everything = "*"

// others says which modules of others a package and those below it may import; packages of cmd may import any.
var others = map[string][]string{
	"audio":          {},
	"audio/circuit":  {"gonum.org/v1/gonum"},
	"audio/live":     {"github.com/gordonklaus/portaudio", "golang.org/x/sys"},
	"detect":         {"github.com/mjibson/go-dsp", "gonum.org/v1/gonum"},
	"timing":         {"gonum.org/v1/gonum"},
	"timing/sheet":   {"github.com/pelletier/go-toml/v2"},
	"timing/logbook": {"golang.org/x/sys"},
}

// TestImportArrows looks at every file that is no test, for whatever system and build tag it is meant.
func TestImportArrows(t *testing.T) {
	files := 0
	for file := range goFiles(t) {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		files++
		pkg := path.Dir(file)
		allowed, known := arrows[pkg]
		if !assert.True(t, known, "package %s is not in the table of import arrows", pkg) {
			continue
		}
		for _, imp := range imports(t, file) {
			our, isOurs := strings.CutPrefix(imp, module)
			switch {
			case isOurs:
				assert.True(t, slices.Contains(allowed, our) || slices.Contains(allowed, everything), "%s may not import %s", file, our)
			case imp == "C" || strings.HasPrefix(imp, "github.com/gordonklaus/portaudio"):
				assert.Equal(t, "audio/live", pkg, "%s imports %q: only audio/live may use C", file, imp)
			case !strings.HasPrefix(pkg, "cmd/") && strings.Contains(imp, "."):
				assert.True(t, underOne(imp, allowedOthers(pkg)), "%s may not import %s", file, imp)
			}
		}
	}
	assert.Greater(t, files, 20, "the files were not found")
}

// TestDependencies asks go for everything that the libraries need, however far away.
func TestDependencies(t *testing.T) {
	for _, top := range []string{"audio", "detect", "timing"} {
		cmd := exec.Command("go", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", "./"+top+"/...")
		cmd.Dir = root
		var stderr strings.Builder
		cmd.Stderr = &stderr
		out, err := cmd.Output()
		require.NoError(t, err, stderr.String())
		deps := strings.Fields(string(out))
		assert.Contains(t, deps, module+top)
		for _, dep := range deps {
			if our, ok := strings.CutPrefix(dep, module); ok {
				assert.Equal(t, top, strings.Split(our, "/")[0], "%s needs %s: audio, detect and timing know nothing of each other", top, our)
				continue
			}
			var mods []string
			for pkg, m := range others {
				if pkg == top || strings.HasPrefix(pkg, top+"/") {
					mods = append(mods, m...)
				}
			}
			assert.True(t, underOne(dep, mods), "%s needs %s", top, dep)
		}
	}
}

// TestArrowsHaveNoCycle guards the table itself: what a package may import, however far, never leads back to it.
func TestArrowsHaveNoCycle(t *testing.T) {
	var reach func(string, []string)
	reach = func(pkg string, trail []string) {
		require.NotContains(t, trail, pkg, "the table of import arrows runs in a circle")
		for _, next := range arrows[pkg] {
			if next != everything {
				require.Contains(t, arrows, next)
				reach(next, append(trail, pkg))
			}
		}
	}
	for _, pkg := range slices.Sorted(maps.Keys(arrows)) {
		reach(pkg, nil)
	}
}

// allowedOthers returns the line of others for pkg, or for the nearest folder above that has one.
func allowedOthers(pkg string) []string {
	for ; pkg != "."; pkg = path.Dir(pkg) {
		if mods, ok := others[pkg]; ok {
			return mods
		}
	}
	return nil
}

func underOne(imp string, mods []string) bool {
	return slices.ContainsFunc(mods, func(m string) bool { return imp == m || strings.HasPrefix(imp, m+"/") })
}

func imports(t *testing.T, file string) []string {
	f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, parser.ImportsOnly)
	require.NoError(t, err)
	var list []string
	for _, i := range f.Imports {
		p, err := strconv.Unquote(i.Path.Value)
		require.NoError(t, err)
		list = append(list, p)
	}
	return list
}

// goFiles yields the path of every Go file, from the root, with forward slashes.
func goFiles(t *testing.T) func(func(string) bool) {
	return func(yield func(string) bool) {
		for _, top := range []string{"audio", "cmd", "detect", "timing"} {
			err := filepath.WalkDir(filepath.Join(root, top), func(p string, d fs.DirEntry, err error) error {
				if err != nil || d.IsDir() || filepath.Ext(p) != ".go" {
					return err
				}
				rel, err := filepath.Rel(root, p)
				if err == nil && !yield(filepath.ToSlash(rel)) {
					return fs.SkipAll
				}
				return err
			})
			require.NoError(t, err)
		}
	}
}
