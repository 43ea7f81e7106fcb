package circuit

import (
	"bufio"
	"encoding/csv"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// gridCase is a line of testdata/cases.csv.
type gridCase struct {
	name  string
	c     Circuit
	f     float64
	clips string
}

func gridCases(t *testing.T) (list []gridCase) {
	file, err := os.Open(filepath.Join("testdata", "cases.csv"))
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	head := lines[0]
	for _, line := range lines[1:] {
		text, value := map[string]string{}, map[string]float64{}
		for i, column := range head {
			text[column] = line[i]
			if column != "case" && column != "wiring" && column != "plates" && column != "clips" {
				value[column], err = strconv.ParseFloat(line[i], 64)
				require.NoError(t, err)
			}
		}
		c := Circuit{Source: value["source"], Series: value["series"], Load: value["load"], Input: value["input"], Block: value["block"],
			Lead: value["lead"], Common: value["common"], LeadC: value["leadC"], Condenser: value["condenser"], Contact: value["contact"],
			Leak: value["leak"]}
		if text["wiring"] == "across" {
			c.Wiring = Shunt
		}
		if value["coilL"] > 0 {
			c.Coil = &Coil{R: value["coilR"], L: value["coilL"], Eddy: value["eddy"], Far: value["far"], Plates: text["plates"] == "true"}
		}
		list = append(list, gridCase{name: text["case"], c: c, f: value["f"], clips: text["clips"]})
	}
	return list
}

// gridLevels reads what ngspice made of them.
func gridLevels(t *testing.T) map[string]complex128 {
	file, err := os.Open(filepath.Join("testdata", "grid.out"))
	require.NoError(t, err)
	defer file.Close()
	levels, line := map[string]complex128{}, regexp.MustCompile(`^v\(in(\d+[cow])\) = (\S+),(\S+)\s*$`)
	for s := bufio.NewScanner(file); s.Scan(); {
		found := line.FindStringSubmatch(s.Text())
		require.NotNil(t, found, s.Text())
		re, err := strconv.ParseFloat(found[2], 64)
		require.NoError(t, err)
		im, err := strconv.ParseFloat(found[3], 64)
		require.NoError(t, err)
		levels[found[1]] = complex(re, im)
	}
	return levels
}

// ngspice solves 540 cables with all that they may be on: each level is the same to 0.01 dB and 0.1 degrees. Below -120 dB the distance
// must be 1e-9, a thousandth of -120 dB: there ngspice's own conductance of 1 pS from each node, and insulation that it
// needs, are as large as the level, and no sound card hears any of it.
func TestGridAgainstNgspice(t *testing.T) {
	levels, wiring, deep, seen := gridLevels(t), map[Wiring]int{}, 0, 0
	check := func(name string, got complex128) {
		want, ok := levels[name]
		require.True(t, ok, "case %s has no result", name)
		seen++
		if cmplx.Abs(want) < 1e-6 {
			deep++
			assert.InDelta(t, 0, cmplx.Abs(got-want), 1e-9, "case %s", name)
			return
		}
		assert.InDelta(t, 0, 20*math.Log10(cmplx.Abs(got)/cmplx.Abs(want)), 0.01, "case %s [dB]", name)
		assert.InDelta(t, 0, cmplx.Phase(got/want)*180/math.Pi, 0.1, "case %s [degrees]", name)
	}
	for _, g := range gridCases(t) {
		wiring[g.c.Wiring]++
		if g.clips == "points" {
			l, err := g.c.At(g.f)
			require.NoError(t, err, "case %s", g.name)
			check(g.name+"c", l.Closed)
			check(g.name+"o", l.Open)
			continue
		}
		z := cmplx.Inf()
		switch g.clips {
		case "apart":
		case "together":
			z = 0
		default:
			ohm, err := strconv.ParseFloat(g.clips, 64)
			require.NoError(t, err)
			z = complex(ohm, 0)
		}
		got, err := g.c.With(g.f, z)
		require.NoError(t, err, "case %s", g.name)
		check(g.name+"w", got)
	}
	assert.Equal(t, map[Wiring]int{Series: 270, Shunt: 270}, wiring)
	assert.Equal(t, len(levels), seen, "results without a case")
	assert.Less(t, deep, 10, "nearly all are compared by ratio")
}

// The list and the netlist are what their program writes.
func TestGridIsWhatItsProgramWrites(t *testing.T) {
	folder := t.TempDir()
	cmd := exec.Command("go", "run", "./testdata/grid", folder)
	var said strings.Builder
	cmd.Stderr = &said
	require.NoError(t, cmd.Run(), "%s", &said)
	for _, name := range []string{"cases.csv", "grid.cir"} {
		want, err := os.ReadFile(filepath.Join(folder, name))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join("testdata", name))
		require.NoError(t, err)
		assert.True(t, string(want) == string(got), "%s is not what go run ./testdata/grid writes", name)
	}
}
