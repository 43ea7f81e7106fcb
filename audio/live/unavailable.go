//go:build !cgo || nolive

package live

// Available tells that this build has no live audio.
const Available = false

// Devices returns ErrUnavailable.
func Devices() ([]Device, error) { return nil, ErrUnavailable }

// Open returns ErrUnavailable.
func Open(Options) (*Stream, error) { return nil, ErrUnavailable }
