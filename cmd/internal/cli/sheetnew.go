package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
	"breakcue/timing/sheet"
)

func newSheetNew(env Env) *cobra.Command {
	c := &cobra.Command{
		Use:   "new engine|dial FILE",
		Short: "Write a new sheet by asking one question after the other",
		Long: `Write a new sheet by asking one question after the other. Each says in a line where the answer is found or how it is measured;
an answer that cannot be is refused with the reason, and asked for again. At the end the sheet is explained back, as by
"breakcue sheet check".

  Enter     takes what stands in square brackets
  1 2 3     choose from a list
  54  54,5  a number in the unit that the question names; 2.125in or 79 thou
            brings its own
  <         goes back to the question before; on a number pad / does the same
  -         leaves out what may be left out

The number pad is enough; the engine is then called after FILE. FILE is written only after the last answer, and never over one
that is there. It can be changed with any text editor.`,
		Example: "  breakcue sheet new engine twin.toml\n  breakcue sheet new dial dial.toml",
		Args: func(c *cobra.Command, args []string) error {
			if err := exactArgs(2, "engine or dial, and a file")(c, args); err != nil {
				return err
			}
			if args[0] != string(sheet.EngineSheet) && args[0] != string(sheet.DialSheet) {
				return fail(ExitUsage, "as 'breakcue sheet new engine twin.toml'", "a sheet of %q, want engine or dial", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return newSheetFile(c.Context(), env, sheet.Kind(args[0]), args[1])
		},
	}
	return c
}

// newSheetFile asks for a sheet, writes it and explains it.
func newSheetFile(ctx context.Context, env Env, kind sheet.Kind, file string) error {
	if _, err := os.Lstat(file); err == nil {
		return existing(file)
	}
	if folder, err := os.Stat(filepath.Dir(file)); err != nil || !folder.IsDir() {
		return fail(ExitFailed, "make the folder first, or name another", "there is no folder %s for the sheet", filepath.Dir(file))
	}
	in := interview{kind: kind, file: file, answers: map[string]string{}, env: env}
	text, err := in.ask(ctx)
	if err != nil {
		fmt.Fprintf(env.Err, "\nbreakcue: nothing was written\n")
		return err
	}
	if err := writeNew(file, text); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return existing(file)
		}
		return fail(ExitFailed, "make room, or name a file in another folder; nothing was written", "%w", err)
	}
	fmt.Fprintf(env.Err, "breakcue: written: %s\n", session.Printable(file))
	return checkSheets(env, []string{file}, false)
}

// existing says that a file is in the way.
func existing(file string) error {
	return fail(ExitFailed, "name another file; a sheet that is there is changed with a text editor", "%s is there already and is left as it is", file)
}

// writeNew writes a file that is not there yet, wholly or not at all.
func writeNew(file, text string) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(file))
	}
	return nil
}
