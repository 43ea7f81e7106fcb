package known

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// home is an environment whose settings lie in a folder of the test's own.
func home(t *testing.T) (getenv func(string) string, path string) {
	dir := t.TempDir()
	getenv = func(key string) string {
		return map[string]string{"HOME": dir, "AppData": filepath.Join(dir, ".config")}[key]
	}
	return getenv, filepath.Join(dir, ".config", "breakcue", "known.json")
}

func write(t *testing.T, path, text string) {
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
}

func names(t *testing.T, path string) (list []string) {
	entries, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}

func TestRemembers(t *testing.T) {
	getenv, path := home(t)
	f, err := Load(getenv)
	require.NoError(t, err)
	assert.Equal(t, "", f.Last)
	assert.False(t, f.Confirmed("Line <box>"))
	assert.NoFileExists(t, path, "reading writes nothing")

	f.Last = "speaker"
	f.Confirm("Line <box>")
	f.Confirm("Line <box>")
	f.Confirm("")
	require.NoError(t, f.Save())
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, `{
 "schema": "breakcue.known/1",
 "last": "speaker",
 "confirmed": [
  "Line <box>"
 ]
}
`, string(text))
	assert.Equal(t, []string{"known.json"}, names(t, path))

	again, err := Load(getenv)
	require.NoError(t, err)
	assert.Equal(t, f, again)
	assert.True(t, again.Confirmed("Line <box>"))
	assert.False(t, again.Confirmed("speaker"), "used is not agreed to")
	assert.False(t, again.Confirmed("Line"), "a part of a name is another device")
}

func TestKeepsDamagedFileAside(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", "got no valid content (EOF), want one JSON object"},
		"cut":           {`{"schema":"breakcue.known/1","la`, "got no valid content (unexpected EOF)"},
		"other type":    {`["a"]`, "got no valid content (json: cannot unmarshal array"},
		"null":          {`null`, `schema, got "", want "breakcue.known/1"`},
		"other version": {`{"schema":"breakcue.known/2","last":"","confirmed":[]}`, `schema, got "breakcue.known/2", want "breakcue.known/1"`},
		"unknown key":   {`{"schema":"breakcue.known/1","volume":3}`, `unknown field "volume"`},
		"empty name":    {`{"schema":"breakcue.known/1","confirmed":[""]}`, "confirmed, got an empty name"},
		"two objects":   {`{"schema":"breakcue.known/1"}{}`, "more follows the object"},
		"zeros":         {strings.Repeat("\x00", 512), "got no valid content (invalid character"},
	} {
		t.Run(name, func(t *testing.T) {
			getenv, path := home(t)
			write(t, path, c.text)
			f, err := Load(getenv)
			assert.ErrorContains(t, err, c.want)
			assert.ErrorContains(t, err, "moved to "+path+".damaged, start with an empty one")
			assert.Equal(t, &File{path: path}, f)
			kept, err := os.ReadFile(path + ".damaged")
			require.NoError(t, err)
			assert.Equal(t, c.text, string(kept))

			f.Confirm("cable")
			require.NoError(t, f.Save())
			again, err := Load(getenv)
			require.NoError(t, err)
			assert.True(t, again.Confirmed("cable"))
		})
	}
}

func TestKeepsEveryDamagedFile(t *testing.T) {
	getenv, path := home(t)
	f, err := Load(getenv)
	require.NoError(t, err)
	for _, text := range []string{"a", "b"} {
		write(t, path, text)
		_, err := Load(getenv)
		assert.Error(t, err)
	}
	// Damaged after it was loaded: told by Save, which has saved all the same.
	write(t, path, "c")
	f.Confirm("cable")
	assert.ErrorContains(t, f.Save(), "moved to "+path+".damaged-3")
	assert.Equal(t, []string{"known.json", "known.json.damaged", "known.json.damaged-2", "known.json.damaged-3"}, names(t, path))
	f, err = Load(getenv)
	require.NoError(t, err)
	assert.True(t, f.Confirmed("cable"))
}

func TestSaveKeepsWhatOthersHaveNoted(t *testing.T) {
	getenv, _ := home(t)
	one, err := Load(getenv)
	require.NoError(t, err)
	other, err := Load(getenv)
	require.NoError(t, err)
	one.Last = "one"
	one.Confirm("one")
	require.NoError(t, one.Save())
	other.Confirm("other")
	require.NoError(t, other.Save())

	f, err := Load(getenv)
	require.NoError(t, err)
	assert.Equal(t, "one", f.Last)
	assert.True(t, f.Confirmed("one") && f.Confirmed("other"))
}

// Many at once: nobody ever reads half a file, and nothing is left lying about.
func TestManyAtOnce(t *testing.T) {
	getenv, path := home(t)
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			for j := range 10 {
				f, err := Load(getenv)
				assert.NoError(t, err)
				f.Last = fmt.Sprint("device ", i)
				f.Confirm(fmt.Sprint("device ", i, ".", j))
				assert.NoError(t, f.Save())
				assert.True(t, f.Confirmed(fmt.Sprint("device ", i, ".", j)))
			}
		})
	}
	all.Wait()
	f, err := Load(getenv)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(f.Last, "device "))
	assert.NotEmpty(t, f.confirmed)
	assert.Equal(t, []string{"known.json"}, names(t, path))
}

// What cannot be read for another reason than its content stays as it is.
func TestLeavesAloneWhatIsNoFile(t *testing.T) {
	getenv, path := home(t)
	require.NoError(t, os.MkdirAll(path, 0o755))
	f, err := Load(getenv)
	assert.ErrorContains(t, err, "known: ")
	assert.False(t, f.Confirmed("cable"))
	assert.ErrorContains(t, f.Save(), "known: ")
	assert.Equal(t, []string{"known.json"}, names(t, path))

	file := filepath.Join(t.TempDir(), "file")
	write(t, file, "")
	f, err = Load(func(string) string { return file })
	assert.Error(t, err, "the folder for settings is a file")
	assert.Error(t, f.Save())
}

func TestNowhereToKeepIt(t *testing.T) {
	f, err := Load(func(string) string { return "" })
	assert.ErrorContains(t, err, "known: folder for settings, got no ")
	f.Confirm("cable")
	assert.True(t, f.Confirmed("cable"), "for as long as the program runs")
	assert.EqualError(t, f.Save(), "known: save, got no folder for settings, want one")
}

func TestPath(t *testing.T) {
	env := map[string]string{"HOME": "/home/a", "AppData": "/roaming"}
	getenv := func(key string) string { return env[key] }
	for _, c := range []struct{ goos, config, want string }{
		{"linux", "", "/home/a/.config/breakcue/known.json"},
		{"linux", "/etc/mine", "/etc/mine/breakcue/known.json"},
		{"linux", "mine", "/home/a/.config/breakcue/known.json"},
		{"darwin", "", "/home/a/.config/breakcue/known.json"},
		{"windows", "/etc/mine", "/roaming/breakcue/known.json"},
	} {
		env["XDG_CONFIG_HOME"] = c.config
		got, err := pathFor(c.goos, getenv)
		assert.NoError(t, err)
		assert.Equal(t, filepath.FromSlash(c.want), got)
	}
}

// Whatever devices are called, they are known again.
func TestAnyName(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := &File{Last: rapid.String().Draw(r, "last")}
		devices := rapid.SliceOf(rapid.SliceOfN(rapid.Byte(), 1, 20)).Draw(r, "devices")
		for _, d := range devices {
			f.Confirm(string(d))
		}
		again, err := decode(f.encode())
		require.NoError(r, err)
		assert.Equal(r, valid(f.Last), again.Last)
		for _, d := range devices {
			assert.True(r, again.Confirmed(string(d)), "%q", d)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(`{"schema":"breakcue.known/1","last":"a","confirmed":["b","b"]}`))
	f.Add([]byte(`{"schema":"breakcue.known/1","last":"\ud800","confirmed":null}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := decode(data)
		if err != nil {
			return
		}
		again, err := decode(got.encode())
		require.NoError(t, err)
		assert.Equal(t, got, again)
	})
}
