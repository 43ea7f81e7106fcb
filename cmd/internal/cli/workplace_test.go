package cli

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// workplace is a shop where somebody stands before the big screen. The sound goes on only when the test lets it, a block after
// the other, so that what is typed and seen falls on the same frames on every machine.
type workplace struct {
	*shop
	root   string // folder of the logs
	screen *watched

	asks  chan struct{} // all that was given before was taken
	gives chan int      // frames
	nudge chan struct{} // a key has come to where the next block finds it
	gone  chan struct{} // nobody gives any more
	done  chan int      // exit code
	code  int
	ended bool
	heard atomic.Int64 // [frames]
}

// monday is when the work begins.
var monday = time.Date(2026, 5, 4, 10, 11, 0, 0, time.UTC)

// seen is one cell of a screen.
type seen struct {
	text  string
	style tcell.Style
}

// watched is an 80x24 screen in memory that keeps what was drawn last.
type watched struct {
	tcell.SimulationScreen
	fresh chan struct{}

	mu    sync.Mutex
	rows  []string
	cells []seen
	style map[tcell.Style]bool // those of all cells ever drawn
}

func (w *watched) Init() error {
	err := w.SimulationScreen.Init()
	w.SetSize(80, 24)
	return err
}

func (w *watched) Show() {
	w.SimulationScreen.Show()
	cells, width, height := w.GetContents()
	w.mu.Lock()
	defer w.mu.Unlock()
	w.rows, w.cells = nil, make([]seen, len(cells))
	for y := range height {
		var row strings.Builder
		for _, c := range cells[y*width : (y+1)*width] {
			row.WriteString(string(c.Runes))
			w.style[c.Style] = true
		}
		for x, c := range cells[y*width : (y+1)*width] {
			w.cells[y*width+x] = seen{string(c.Runes), c.Style}
		}
		w.rows = append(w.rows, strings.TrimRight(row.String(), " "))
	}
	select {
	case w.fresh <- struct{}{}:
	default:
	}
}

// unbroken undoes the line breaks.
func unbroken(rows []string) string {
	return strings.Join(strings.Fields(strings.Join(rows, " ")), " ")
}

func newWorkplace(t *testing.T, env map[string]string, changes ...bench.Change) *workplace {
	w := &workplace{
		shop: newShop(t, changes...), root: t.TempDir(),
		screen: &watched{SimulationScreen: tcell.NewSimulationScreen("UTF-8"), fresh: make(chan struct{}, 1), style: map[tcell.Style]bool{}},
		asks:   make(chan struct{}), gives: make(chan int), nudge: make(chan struct{}, 1), gone: make(chan struct{}), done: make(chan int, 1),
	}
	known := w.env.Getenv
	w.env.Getenv = func(name string) string {
		if name == "NO_COLOR" || name == "TERM" {
			return env[name]
		}
		return known(name)
	}
	w.env.In, w.env.InTTY, w.env.OutTTY, w.env.Screen = strings.NewReader("\n"), true, true, w.screen // no headphones
	w.env.Now = func() time.Time { return monday.Add(time.Duration(w.heard.Load()) * time.Second / 48000) }
	w.wrap = func(src audio.Source) audio.Source {
		w.card.nudged = func() { w.nudge <- struct{}{} }
		return &given{src, w}
	}
	t.Cleanup(func() { close(w.gone) })
	return w
}

// given is a sound that comes when it is let.
type given struct {
	audio.Source
	w *workplace
}

func (g *given) Read(dst []float32) (int, error) {
	select {
	case g.w.asks <- struct{}{}:
	case <-g.w.gone:
		return 0, io.EOF
	}
	select {
	case frames := <-g.w.gives:
		n, err := g.Source.Read(dst[:frames*g.Format().Channels])
		g.w.heard.Add(int64(n))
		return n, err
	case <-g.w.gone:
		return 0, io.EOF
	}
}

// begin starts a command that hears live sound, and returns when it asks for the first.
func (w *workplace) begin(t *testing.T, args ...string) {
	go func() { w.done <- w.run(t, args...) }()
	w.await()
}

// session starts a live session without a guide.
func (w *workplace) session(t *testing.T, args ...string) {
	w.begin(t, append(append(append([]string{}, sheetArgs...), "--no-guide", "--dir", w.root), args...)...)
}

// await returns when all the sound given was taken, and everything done that comes of it.
func (w *workplace) await() {
	select {
	case <-w.asks:
	case w.code = <-w.done:
		w.ended = true
	}
}

// block lets 20 ms of sound be heard.
func (w *workplace) block() {
	w.gives <- 960
	w.await()
}

// until lets the sound go on to a time [s].
func (w *workplace) until(at float64) {
	for !w.ended && float64(w.heard.Load()) < at*48000 {
		w.block()
	}
}

// strike strikes keys, "\n" for Enter.
func (w *workplace) strike(keys string) {
	for _, r := range keys {
		if r == '\n' {
			w.screen.InjectKey(tcell.KeyEnter, 0, 0)
		} else {
			w.screen.InjectKey(tcell.KeyRune, r, 0)
		}
		<-w.nudge
		w.block()
	}
}

// sees waits until the screen shows all texts, whatever lines they are broken into, and returns its rows.
func (w *workplace) sees(t *testing.T, texts ...string) []string {
	t.Helper()
	return w.watch(t, fmt.Sprintf("%q", texts), func(rows []string) bool {
		shown := unbroken(rows)
		return !slices.ContainsFunc(texts, func(text string) bool { return !strings.Contains(shown, text) })
	})
}

// watch waits until the rows of the screen are such, and returns them.
func (w *workplace) watch(t *testing.T, what string, such func(rows []string) bool) []string {
	t.Helper()
	patience, cancel := context.WithTimeout(t.Context(), 10*time.Second) // far more than anything takes: who waits in vain fails instead of hanging
	defer cancel()
	for {
		w.screen.mu.Lock()
		rows := w.screen.rows
		w.screen.mu.Unlock()
		if such(rows) {
			return rows
		}
		select {
		case <-w.screen.fresh:
		case <-patience.Done():
			require.Fail(t, "not on the screen", "want %s on\n%s\n%s", what, strings.Join(rows, "\n"), w.errs.String())
		}
	}
}

// journal reads the only session in the log, and its folder.
func (w *workplace) journal(t *testing.T) (r session.Report, dir string) {
	t.Helper()
	dirs, err := filepath.Glob(filepath.Join(w.root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	require.Empty(t, j.Damaged)
	r, err = session.FromJournal(j)
	require.NoError(t, err)
	return r, dirs[0]
}
