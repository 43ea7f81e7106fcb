package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// Two computers can give two sessions one name: what is compared with itself is told by how it began.
func TestTwoSessionsOfOneName(t *testing.T) {
	one := wholeSession(t, t.TempDir(), "twin")
	two := filepath.Join(t.TempDir(), filepath.Base(one))
	require.NoError(t, os.Mkdir(two, 0o755))
	raw, err := os.ReadFile(filepath.Join(one, logbook.FileName))
	require.NoError(t, err)
	compared := func() (code int, out, errs string) {
		var o, e bytes.Buffer
		env := Env{Out: &o, Err: &e, Getenv: os.Getenv, Now: time.Now}
		code = Main(context.Background(), []string{"log", "compare", one, two}, env)
		return code, o.String(), e.String()
	}
	require.NoError(t, os.WriteFile(filepath.Join(two, logbook.FileName), raw, 0o644))
	code, _, errs := compared()
	assert.Equal(t, ExitUsage, code)
	assert.Contains(t, errs, "are the same session, begun on 2026-05-04 10:11:")

	earlier := bytes.ReplaceAll(raw, []byte(`"time":"2026-05-04T`), []byte(`"time":"2025-05-04T`))
	require.NoError(t, os.WriteFile(filepath.Join(two, logbook.FileName), earlier, 0o644))
	code, out, errs := compared()
	assert.Equal(t, ExitOK, code, errs)
	assert.Contains(t, out, "365 days later")
}
