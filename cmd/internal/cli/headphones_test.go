package cli

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/known"
)

// settings is an environment with a folder for settings of the test's own.
func settings(t *testing.T) func(string) string {
	dir := t.TempDir()
	return func(string) string { return dir }
}

func loadKnown(t *testing.T, getenv func(string) string) *known.File {
	f, err := known.Load(getenv)
	require.NoError(t, err)
	return f
}

const (
	question = "A tone will come out of \"line box\", for the first time.\nTake headphones off everyone's head first.\n"
	prompt   = "Press Enter when that is so, or Ctrl-C: "
)

func TestAskHeadphones(t *testing.T) {
	for _, c := range []struct {
		name      string
		tty       bool
		typed     string
		stderr    string
		remembers bool
		err       string
		left      string // of what was typed
	}{
		{name: "Enter", tty: true, typed: "\nq", stderr: question + prompt, remembers: true, left: "q"},
		{name: "Enter of Windows", tty: true, typed: "\r\nq", stderr: question + prompt, remembers: true, left: "q"},
		{
			name: "no is no", tty: true, typed: "no\n\n", remembers: true,
			stderr: question + prompt + "Enter alone, please: nothing is played before.\n" + prompt,
		},
		{name: "Ctrl-D", tty: true, typed: "", stderr: question + prompt + "\n", err: "no tone was played: nobody pressed Enter (EOF)"},
		{name: "Ctrl-D in a line", tty: true, typed: "ye", stderr: question + prompt + "\n", err: "no tone was played: nobody pressed Enter (EOF)"},
		{
			name: "no keyboard", typed: "\n", left: "\n",
			stderr: "breakcue: note: a tone will come out of \"line box\"; nobody can be asked whether headphones are on a head, so it rises slowly\n",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			getenv := settings(t)
			in := strings.NewReader(c.typed)
			var stderr bytes.Buffer
			env := Env{In: in, Err: &stderr, InTTY: c.tty}
			isNew, err := askHeadphones(context.Background(), env, "line box", loadKnown(t, getenv))
			assert.True(t, isNew)
			if c.err == "" {
				assert.NoError(t, err)
			} else {
				assert.EqualError(t, err, c.err)
				var f *Failure
				assert.ErrorAs(t, err, &f)
			}
			assert.Equal(t, c.stderr, stderr.String())
			left, err := io.ReadAll(in)
			require.NoError(t, err)
			assert.Equal(t, c.left, string(left))

			// The next run asks again only where nobody has agreed.
			again := loadKnown(t, getenv)
			assert.Equal(t, c.remembers, again.Confirmed("line box"))
			stderr.Reset()
			env.In = strings.NewReader("\n")
			isNew, err = askHeadphones(context.Background(), env, "line box", again)
			assert.NoError(t, err)
			assert.Equal(t, !c.remembers, isNew)
			assert.Equal(t, c.remembers, stderr.Len() == 0)
		})
	}
}

func TestAskHeadphonesEndsWithContext(t *testing.T) {
	in, keyboard := io.Pipe()
	defer keyboard.Close()
	ctx, cancel := context.WithCancel(context.Background())
	var stderr bytes.Buffer
	env := Env{In: in, Err: cancelAtPrompt{&stderr, cancel}, InTTY: true}
	f := loadKnown(t, settings(t))
	_, err := askHeadphones(ctx, env, "line box", f)
	assert.ErrorIs(t, err, context.Canceled)
	assert.False(t, f.Confirmed("line box"))
	assert.Equal(t, question+prompt+"\n", stderr.String())
}

// cancelAtPrompt is Ctrl-C pressed when the prompt appears.
type cancelAtPrompt struct {
	io.Writer
	cancel func()
}

func (w cancelAtPrompt) Write(p []byte) (int, error) {
	if string(p) == prompt {
		w.cancel()
	}
	return w.Writer.Write(p)
}

// Agreed, but it cannot be kept: the tone is played all the same, and the reason told.
func TestAskHeadphonesWithoutSettings(t *testing.T) {
	var stderr bytes.Buffer
	env := Env{In: strings.NewReader("\n"), Err: &stderr, InTTY: true}
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	f, err := known.Load(func(string) string { return file })
	require.Error(t, err)
	isNew, err := askHeadphones(context.Background(), env, "line box", f)
	assert.NoError(t, err)
	assert.True(t, isNew)
	assert.True(t, f.Confirmed("line box"))
	assert.Contains(t, stderr.String(), prompt+"breakcue: note: known: ")
}

func TestAskHeadphonesKeepsTheTerminalClean(t *testing.T) {
	var stderr bytes.Buffer
	env := Env{In: errReader{}, Err: &stderr, InTTY: true}
	_, err := askHeadphones(context.Background(), env, "box\x1b[2J", loadKnown(t, settings(t)))
	assert.ErrorContains(t, err, "keyboard unplugged")
	assert.NotContains(t, stderr.String(), "\x1b")
}

type errReader struct{}

func (errReader) Read([]byte) (int, error) { return 0, errors.New("keyboard unplugged") }
