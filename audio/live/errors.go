package live

import (
	"errors"
	"fmt"
	"strings"
)

// What can be wrong with a device: what a DeviceError wraps, beside what PortAudio says.
var (
	// ErrSilent: the device gave no sound for two seconds. It was unplugged, or its driver or sound server has died.
	ErrSilent = errors.New("no sound for 2 s")
	// ErrNoAnswer: a call into the driver did not return in time. The sound system is not asked for anything more in this process,
	// because the call may hold it for ever; a new process may try again.
	ErrNoAnswer = errors.New("no answer from the sound system")
	// ErrFault: a fault of this program in the callback.
	ErrFault = errors.New("fault in the callback")
	// ErrNoDevice: no device has that name, or there is none at all.
	ErrNoDevice = errors.New("no such device")
	// ErrAmbiguous: several devices have that part in their names.
	ErrAmbiguous = errors.New("several devices fit")
)

// DeviceError says what was wanted of which device and why it could not be had.
type DeviceError struct {
	Device string // name, or the part of one that was asked for; empty for the default devices
	What   string // "find", "open", "start", "run", "stop"
	Err    error
}

// Error implements error.
func (e *DeviceError) Error() string {
	name := "the default devices"
	if e.Device != "" {
		name = fmt.Sprintf("device %q", e.Device)
	}
	return fmt.Sprintf("live: %s %s: %v", e.What, name, e.Err)
}

// Unwrap returns Err.
func (e *DeviceError) Unwrap() error { return e.Err }

// RateError says that a device refused a rate, and which of the usual ones it takes. [frames/s]
type RateError struct {
	Rate  int
	Takes []int // empty when none, or not known
}

// Error implements error.
func (e *RateError) Error() string {
	if len(e.Takes) == 0 {
		return fmt.Sprintf("rate, got %d frames/s, which it refuses", e.Rate)
	}
	list := strings.Trim(fmt.Sprint(e.Takes), "[]")
	return fmt.Sprintf("rate, got %d frames/s, want one of %s", e.Rate, strings.ReplaceAll(list, " ", ", "))
}
