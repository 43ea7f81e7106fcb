package cli

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/leads"
	"breakcue/detect"
)

// Whoever practises the check of the cable, and then the work, has the same cable at both: the levels hold, and nothing has moved.
func TestTheCheckOfTheBenchHoldsAtTheBench(t *testing.T) {
	for wired, wiring := range map[detect.Wiring]string{detect.Series: "series", detect.Shunt: "shunt"} {
		s := newShop(t)
		s.env.Now = func() time.Time { return monday }
		file := filepath.Join(t.TempDir(), "bench.json")
		s.env.In = strings.NewReader(strings.Repeat("\n", leads.Steps))
		require.Equal(t, ExitOK, s.run(t, "leads", "--bench", "--wiring", wiring, "--profile", file), s.errs.String())
		clock := (&slept{at: monday}).env()
		s.env.In, s.env.Now, s.env.Sleep = strings.NewReader(""), clock.Now, clock.Sleep
		var many []bench.Change
		for i := range 8 {
			many = append(many, bench.Change{At: 1 + float64(i)*0.8}, bench.Change{At: 1.3 + float64(i)*0.8, Closed: true})
		}
		p := planned(slices.Clone(many))
		s.env.Cards = builtInCards(s.env, wired, &p, 1)
		s.out.Reset()
		s.errs.Reset()
		require.Equal(t, ExitOK, s.run(t, "listen", "--plain", "--profile", file, "--for", "8s"), s.errs.String())
		told := s.out.String() + s.errs.String()
		assert.Contains(t, told, "Levels from the check of the cable a minute ago.")
		assert.NotContains(t, told, "do not hold", wiring)
		assert.NotContains(t, told, "has moved", wiring)
	}
}
