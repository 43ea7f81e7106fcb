//go:build soak

package pump_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"breakcue/audio/wav"

	"github.com/stretchr/testify/require"
)

// tongue is a language in the three parts of its sentences; all are invented.
type tongue struct {
	voice            string
	who, does, where []string
}

var tongues = []tongue{
	{"en-gb", []string{"The old mechanic", "My sister", "Nobody in the village", "A very careful apprentice"},
		[]string{"turned the flywheel", "counted the washers", "sang three songs", "asked for the small spanner"},
		[]string{"behind the green door.", "before breakfast!", "while it rained, and rained, and rained.", "on the second of May; was it not?"}},
	{"en-us", []string{"Tomorrow the neighbor", "Okay, so the driver", "Fourteen people", "The guy with the ladder"},
		[]string{"painted the fence", "lost a wheel nut", "waited for coffee", "heard a whistle"},
		[]string{"down by the river.", "at half past nine.", "without saying why?", "again and again."}},
	{"de", []string{"Der Meister", "Meine Tante", "Ein junger Schlosser", "Die ganze Werkstatt"},
		[]string{"sucht den Schlüssel", "zählt die Schrauben", "trinkt erst einmal Tee", "hört ein leises Zischen"},
		[]string{"hinter dem Schuppen.", "seit drei Uhr früh!", "und lacht dabei.", "obwohl es schneit?"}},
	{"fr", []string{"Le vieux garagiste", "Ma cousine", "Personne ici", "Un apprenti sérieux"},
		[]string{"cherche la clef", "compte les écrous", "chante une chanson", "regarde le cadran"},
		[]string{"derrière la porte.", "avant le déjeuner !", "sous la pluie.", "depuis mardi ?"}},
	{"es", []string{"El mecánico", "Mi hermana", "Nadie en el pueblo", "Un aprendiz"},
		[]string{"busca la llave", "cuenta las tuercas", "canta tres canciones", "mira el reloj"},
		[]string{"detrás de la puerta.", "antes del desayuno.", "mientras llueve.", "desde el martes."}},
	{"it", []string{"Il meccanico", "Mia sorella", "Nessuno in paese", "Un giovane"},
		[]string{"cerca la chiave", "conta i dadi", "canta una canzone", "guarda il quadrante"},
		[]string{"dietro la porta.", "prima di colazione!", "sotto la pioggia.", "da martedì?"}},
	{"fi", []string{"Vanha seppä", "Minun siskoni", "Kukaan kylässä", "Nuori oppilas"},
		[]string{"etsii avainta", "laskee muttereita", "laulaa laulua", "katsoo kelloa"},
		[]string{"oven takana.", "ennen aamiaista!", "sateessa.", "tiistaista asti?"}},
	{"pl", []string{"Stary mechanik", "Moja siostra", "Nikt we wsi", "Pilny uczeń"},
		[]string{"szuka klucza", "liczy nakrętki", "śpiewa piosenkę", "patrzy na zegar"},
		[]string{"za drzwiami.", "przed śniadaniem!", "podczas deszczu.", "od wtorku?"}},
	{"cmn", []string{"老师傅", "我的姐姐", "没有人"}, []string{"找扳手", "数螺丝", "唱歌"}, []string{"在门后面。", "在早饭以前！", "下雨的时候。"}},
}

// variants of voices: men, women, a croak, a whisper.
var variants = []string{"", "+m3", "+f2", "+f4", "+croak", "+whisper", "+m7"}

// speaks tells whether there is a program that speaks.
func speaks() bool {
	_, err := exec.LookPath("espeak-ng")
	return err == nil
}

// speech lets a synthetic voice say invented sentences for so many seconds, and returns the sound and its rate. Voices, speeds and
// pauses change with the seed.
func speech(t testing.TB, seconds float64, seed uint64) ([]float32, int) {
	c := newCanvas(1, 0, seed)
	var out []float32
	rate := 0
	for rate == 0 || float64(len(out)) < seconds*float64(rate) {
		l := pick(c, tongues...)
		var text strings.Builder
		for range 12 {
			fmt.Fprintf(&text, "%s %s %s %d\n", pick(c, l.who...), pick(c, l.does...), pick(c, l.where...), c.rng.IntN(2000))
		}
		file := filepath.Join(t.TempDir(), "speech.wav")
		cmd := exec.CommandContext(t.Context(), "espeak-ng", "-v", l.voice+pick(c, variants...), "-s", fmt.Sprint(110+c.rng.IntN(180)),
			"-p", fmt.Sprint(15+c.rng.IntN(75)), "-g", fmt.Sprint(c.rng.IntN(8)), "-w", file, "--stdin")
		cmd.Stdin = strings.NewReader(text.String())
		said, err := cmd.CombinedOutput()
		require.NoError(t, err, "%s", said)
		src, err := wav.Open(file)
		require.NoError(t, err)
		require.Equal(t, 1, src.Format().Channels)
		rate = src.Format().SampleRate
		buf := make([]float32, src.Format().Frames)
		for at := 0; at < len(buf); {
			n, err := src.Read(buf[at:])
			require.NoError(t, err)
			at += n
		}
		require.NoError(t, src.Close())
		require.NoError(t, os.Remove(file))
		out = append(out, buf...)
	}
	return out[:int(seconds*float64(rate))], rate
}
