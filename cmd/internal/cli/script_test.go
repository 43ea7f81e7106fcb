package cli_test

import (
	"context"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"breakcue/audio/live"
	"breakcue/cmd/internal/cli"
)

var update = flag.Bool("update", false, "write what the commands print into the scripts (cmp lines)")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"breakcue": func() {
			env := cli.OSEnv()
			env.Cards = cli.Cards{ // whatever this machine has: no test lets it sound
				List: func() ([]live.Device, error) { return nil, nil },
				Open: func(live.Options) (cli.Card, error) { return nil, live.ErrNoDevice },
			}
			os.Exit(cli.Main(context.Background(), os.Args[1:], env))
		},
	})
}

// TestScripts runs every script of testdata/script. In a script
//
//	exits 3 breakcue review x.wav
//
// runs a command and fails unless it exits with this very code; stdout and stderr can be looked at afterwards.
// $RECORDINGS is the folder of the recordings in testdata, $HOME and the default log folder lie in the script's own
// folder.
func TestScripts(t *testing.T) {
	recordings, err := filepath.Abs("../../../testdata/recordings")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                filepath.Join("testdata", "script"),
		UpdateScripts:      *update,
		RequireUniqueNames: true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("HOME", env.WorkDir)
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "data"))
			env.Setenv("RECORDINGS", recordings)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

// exits runs a command and compares its exit code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND [ARGUMENT...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("%s exited with %d, want %d", args[1], got, want)
	}
}
