package session

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// Results of a journal that a later version wrote in may lack what it wrote: that is said.
func TestEntriesOfALaterVersionAreTold(t *testing.T) {
	dir, _, w := recorded(t, 2, "2.03/1.98\n2.02/1.99")
	require.NoError(t, w.Close())
	f, err := os.OpenFile(filepath.Join(dir, logbook.FileName), os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString(`{"schema":"breakcue.journal/9","seq":90,"time":"2026-05-04T10:11:12Z","kind":"photo","data":{}}` + "\n")
	require.NoError(t, err)
	require.NoError(t, f.Close())
	r := reported(t, dir)
	assert.Contains(t, codes(r.Caveats), "later_version")
	assert.Equal(t, 2, r.Cylinders[0].Phases[0].N)
}
