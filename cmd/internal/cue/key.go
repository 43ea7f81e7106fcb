package cue

import "github.com/gdamore/tcell/v2"

// Name is a key that writes nothing.
type Name uint8

// The keys that have a name. Rune is a key that writes its letter.
const (
	Rune Name = iota
	Enter
	Backspace
	Delete
	Escape
	Interrupt // Ctrl-C
)

// Key is a key that was struck. Rune is its letter where Name is Rune, else 0.
type Key struct {
	Name Name
	Rune rune
}

// keyOf translates a key of the terminal; ok is false for those that mean nothing here, such as the arrows.
func keyOf(e *tcell.EventKey) (k Key, ok bool) {
	switch e.Key() {
	case tcell.KeyRune:
		return Key{Rune: e.Rune()}, e.Rune() >= ' ' && e.Modifiers()&(tcell.ModCtrl|tcell.ModAlt|tcell.ModMeta) == 0
	case tcell.KeyEnter, tcell.KeyLF, tcell.KeyCtrlJ: // a line feed is what some terminals make of Enter on the number pad
		return Key{Name: Enter}, true
	case tcell.KeyBackspace, tcell.KeyBackspace2:
		return Key{Name: Backspace}, true
	case tcell.KeyDelete:
		return Key{Name: Delete}, true
	case tcell.KeyEscape:
		return Key{Name: Escape}, true
	case tcell.KeyCtrlC:
		return Key{Name: Interrupt}, true
	}
	return Key{}, false
}
