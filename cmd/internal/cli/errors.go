package cli

import (
	"errors"
	"fmt"
	"strings"

	"breakcue/cmd/internal/session"
)

// Exit codes. A verdict of any kind is a result and exits with ExitOK.
const (
	ExitOK           = 0
	ExitFailed       = 1
	ExitUsage        = 2
	ExitInconclusive = 3 // open cannot be told from closed; not measurable
	ExitAudio        = 4
	ExitInterrupted  = 130
	ExitTerminated   = 143
)

// Failure is an error with the exit code and the hint that go with it.
type Failure struct {
	Code int
	Err  error
	Hint string // what to do next, one sentence; may be empty
}

// Error implements error.
func (f *Failure) Error() string { return f.Err.Error() }

// Unwrap gives the cause to errors.Is and errors.As.
func (f *Failure) Unwrap() error { return f.Err }

// fail makes a Failure from a message.
func fail(code int, hint, format string, args ...any) error {
	return &Failure{Code: code, Err: fmt.Errorf(format, args...), Hint: hint}
}

// report prints err in the house form on env.Err and returns the exit code. Errors quote names of files and what these hold:
// no control character of theirs reaches the terminal.
func report(env Env, err error) int {
	if err == nil {
		return ExitOK
	}
	code, hint := ExitFailed, ""
	var f *Failure
	if errors.As(err, &f) {
		code, hint = f.Code, f.Hint
	}
	// Errors that were joined come one a line.
	fmt.Fprintf(env.Err, "breakcue: error: %s\n", session.Printable(strings.ReplaceAll(err.Error(), "\n", "; ")))
	if hint != "" {
		fmt.Fprintf(env.Err, "breakcue: hint: %s\n", session.Printable(hint))
	}
	return code
}
