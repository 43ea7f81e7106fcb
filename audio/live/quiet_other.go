//go:build !unix

package live

import "os"

// mute does nothing: the libraries of this system print nothing.
func mute() (unmute func(), err error) { return func() {}, nil }

// Quiet returns standard error as it is: the libraries of this system print nothing on it.
func Quiet() (saved *os.File, restore func(), err error) { return os.Stderr, func() {}, nil }
