package cli

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
)

// usedIn gives the reading that is used of each opening, and what is kept without being used.
func usedIn(t *testing.T, out string) (used map[int64]string, unused []string) {
	var r session.Report
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	used = map[int64]string{}
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			for _, p := range ph.Passes {
				if p.Unused == "" {
					used[p.Edge.ID] += p.Reading
				} else {
					unused = append(unused, p.Reading+": "+p.Unused)
				}
			}
		}
	}
	return used, unused
}

// numbered is a job written down out of order: opening 3 first, one that there is not, a slip put right, a reading taken away.
const numbered = "# left as_found\n3*2.18/2.15\n9*2.17\n2.20/2.14\n1*2.21/2.15\n2.19\n2*-\n"

func TestSessionAsksWhateverTheOrder(t *testing.T) {
	code, out, errs, _ := atTerminal(context.Background(), t, strings.NewReader(numbered+"2.16/\n2.14\n"), "--json")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "3*2.03/1.98 is the reading of opening 3, whichever is asked for; 3*- takes it away.\n")
	assert.Contains(t, errs, "opening 3 at 0.520 s: taken, as of left, as found\n")
	assert.Contains(t, errs, "kept, but not used: there is no opening 9\n")
	assert.Equal(t, 1, strings.Count(errs, "kept, but not used"), "to take one away is no mistake")
	assert.Contains(t, errs, "opening 4 of 4, points open at 0.640 s; left, as found: 2.16/")
	used, unused := usedIn(t, out)
	assert.Equal(t, map[int64]string{1: "2.21/2.15", 3: "2.18/2.15", 4: "2.16/2.14"}, used)
	assert.Equal(t, []string{"2.20/2.14: replaced by a later reading", "2.19: it was taken away", "-: no reading was taken"}, unused[:3])
	assert.Equal(t, "2.17: there is no opening 9", unused[3])
}

// A half that names its opening has that one asked for.
func TestSessionAsksForTheOtherHalf(t *testing.T) {
	code, out, errs, _ := atTerminal(context.Background(), t, strings.NewReader("3*2.18/\n2.15\n2.20/2.14\n"), "--json")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "opening 3 of 4, points open at 0.520 s, next at 0.640 s; left, as found: 2.18/")
	used, _ := usedIn(t, out)
	assert.Equal(t, map[int64]string{3: "2.18/2.15", 1: "2.20/2.14"}, used)
}

func TestSessionFileOfReadingsWhateverTheOrder(t *testing.T) {
	file := filepath.Join(t.TempDir(), "readings.txt")
	require.NoError(t, os.WriteFile(file, []byte(numbered+"4*2.16/2.14\n"), 0o600))
	code, out, errs, _ := atTerminal(context.Background(), t, strings.NewReader(""), "--json", "--readings", file)
	require.Equal(t, ExitOK, code, errs)
	used, unused := usedIn(t, out)
	assert.Equal(t, map[int64]string{1: "2.21/2.15", 3: "2.18/2.15", 4: "2.16/2.14"}, used)
	assert.Contains(t, unused, "2.17: there is no opening 9")
}
