package cli

import (
	"errors"
	"fmt"
	"slices"
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
	All  bool   // print all errors that were joined, however many
}

// Error implements error.
func (f *Failure) Error() string { return f.Err.Error() }

// Unwrap gives the cause to errors.Is and errors.As.
func (f *Failure) Unwrap() error { return f.Err }

// fail makes a Failure from a message.
func fail(code int, hint, format string, args ...any) error {
	return &Failure{Code: code, Err: fmt.Errorf(format, args...), Hint: hint}
}

// report prints err in the house form on env.Err and returns the exit code. Errors that were joined come one a line. They quote names of files and what these hold:
// no control character of theirs reaches the terminal.
func report(env Env, err error) int {
	if err == nil {
		return ExitOK
	}
	code, hint, most := ExitFailed, "", maxErrors
	parts := parted(err)
	var f *Failure
	if errors.As(err, &f) {
		code, hint = f.Code, f.Hint
		if f.All {
			most = len(parts)
		}
	}
	more := max(0, len(parts)-most)
	for _, part := range parts[:len(parts)-more] {
		fmt.Fprintf(env.Err, "breakcue: error: %s\n", session.Printable(strings.ReplaceAll(part, "\n", "; ")))
	}
	if more > 0 {
		fmt.Fprintf(env.Err, "breakcue: error: and %d more\n", more)
	}
	if hint != "" {
		fmt.Fprintf(env.Err, "breakcue: hint: %s\n", session.Printable(hint))
	}
	return code
}

// maxErrors is how many errors are printed of those that were joined, unless all are wanted.
const maxErrors = 5

// parted returns the texts of errors that were joined, each once.
func parted(err error) []string {
	if f, ok := err.(*Failure); ok {
		return parted(f.Err)
	}
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []string{err.Error()}
	}
	var out []string
	for _, e := range joined.Unwrap() {
		for _, text := range parted(e) {
			if !slices.Contains(out, text) {
				out = append(out, text)
			}
		}
	}
	return out
}
