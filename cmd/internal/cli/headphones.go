package cli

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"strings"

	"breakcue/cmd/internal/known"
	"breakcue/cmd/internal/session"
)

// askHeadphones comes before the tone on a device. Where f does not know the device it asks on standard error whether
// headphones are off everybody's head and waits for Enter; who answers is not asked again. Without a keyboard nobody can
// be asked: it says what will happen, and goes on.
//
// isNew tells that the tone must rise slowly, because it is the first one on this device. The error says that nobody
// agreed, or is that of ctx: then no tone may be played.
//
// It takes from env.In the bytes of its answer and no more, so that whoever reads the keyboard next misses none. When ctx
// ends the waiting, the reading goes on until the next byte: nobody else should read env.In then.
func askHeadphones(ctx context.Context, env Env, device string, f *known.File) (isNew bool, err error) {
	if f.Confirmed(device) {
		return false, nil
	}
	if !env.InTTY {
		fmt.Fprintf(env.Err, "breakcue: note: a tone will come out of %q; nobody can be asked whether headphones are on a head, so it rises slowly\n", device)
		return true, nil
	}
	fmt.Fprintf(env.Err, "A tone will come out of %q, for the first time.\n"+
		"Take headphones off everyone's head first.\n", device)
	for {
		fmt.Fprint(env.Err, "Press Enter when that is so, or Ctrl-C: ")
		line, err := lineWithin(ctx, env.In)
		if err != nil {
			fmt.Fprintln(env.Err)
			if ctx.Err() != nil {
				return true, ctx.Err()
			}
			return true, fail(ExitFailed, "run it again and press Enter when nobody wears headphones", "no tone was played: nobody pressed Enter (%w)", err)
		}
		if strings.TrimSpace(line) == "" {
			break
		}
		fmt.Fprintln(env.Err, "Enter alone, please: nothing is played before.")
	}
	f.Confirm(device)
	if err := f.Save(); err != nil {
		fmt.Fprintf(env.Err, "breakcue: note: %s\n", session.Printable(err.Error()))
	}
	return true, nil
}

// lineWithin reads one line of in, unless ctx ends first, and not one byte more. The end of in is an error.
func lineWithin(ctx context.Context, in io.Reader) (string, error) {
	type read struct {
		line string
		err  error
	}
	done := make(chan read, 1)
	go func() {
		line, err := readLine(in)
		done <- read{line, err}
	}()
	select {
	case <-ctx.Done():
		return "", ctx.Err()
	case r := <-done:
		return r.line, cmp.Or(ctx.Err(), r.err)
	}
}

// readLine reads to the end of a line, byte by byte.
func readLine(in io.Reader) (string, error) {
	var line []byte
	for {
		var b [1]byte
		if _, err := io.ReadFull(in, b[:]); err != nil {
			return "", err
		}
		if b[0] == '\n' {
			return string(line), nil
		}
		line = append(line, b[0])
	}
}
