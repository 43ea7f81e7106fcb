package cli

import (
	"bytes"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// Which sessions are to be gone on with is seen at a glance.
func TestLogListSaysWhatIsNotFinished(t *testing.T) {
	root := filepath.Join(t.TempDir(), "sessions")
	for i, reason := range []string{logbook.Finished, "left", "interrupted", ""} {
		w, err := logbook.Create(root, "punt", logbook.Begin{Engine: "Punt"}, func() time.Time { return monday.Add(time.Duration(i) * time.Hour) })
		require.NoError(t, err)
		if reason != "" {
			_, err = w.Append(logbook.End{Reason: reason})
			require.NoError(t, err)
		}
		require.NoError(t, w.Close())
	}
	var out, errs bytes.Buffer
	env := Env{Out: &out, Err: &errs, Getenv: settings(t), Now: time.Now}
	require.Equal(t, ExitOK, Main(t.Context(), []string{"log", "list", "--dir", root}, env), errs.String())
	assert.Regexp(t, `1011-punt +Punt +0\n.*1111-punt +Punt +0 +left\n.*1211-punt +Punt +0 +interrupted\n.*1311-punt +Punt +0 +not ended\n$`, out.String())
}
