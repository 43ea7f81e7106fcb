package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	record "breakcue/cmd/internal/report"
	"breakcue/cmd/internal/session"
)

func newLogReport(env Env) *cobra.Command {
	var dir, out string
	c := &cobra.Command{
		Use:   "report SESSION",
		Short: "Write the record of a session: one page to print, sign and keep",
		Long: `Write the record of a session as one file of HTML that needs nothing beside it: results in words, the passes as a picture
and as a table, what makes them uncertain, the sums for checking them by hand, corrections, the sheets, and a place to sign.

A browser shows and prints it, on A4 or Letter. It is worked out from the log with later corrections applied; the same log gives
the same file.`,
		Example: "  breakcue log report 2026-05-04-1011-twin\n  breakcue log report 2026-05-04 -o twin.html",
		Args:    exactArgs(1, "one session"),
		RunE: func(c *cobra.Command, args []string) error {
			root, err := logRoot(env, dir)
			if err != nil {
				return err
			}
			folder, err := findSession(root, args[0], "run '"+logCommand("list", dir)+"' for the names")
			if err != nil {
				return err
			}
			r, j, err := readReport(c.Context(), env, folder, dir)
			if err != nil {
				return err
			}
			var page bytes.Buffer
			if err := record.Write(&page, j, r); err != nil {
				return err
			}
			if out == "-" {
				_, err := page.WriteTo(env.Out)
				return err
			}
			if out == "" {
				out = filepath.Base(folder) + ".html"
			}
			if err := writeRecord(out, page.Bytes()); err != nil {
				return err
			}
			fmt.Fprintf(env.Err, "breakcue: written: %s\n", session.Printable(out))
			return nil
		},
	}
	logDirFlag(c, &dir)
	c.Flags().StringVarP(&out, "out", "o", "", "write this file, which must not be there yet; - for standard output (default: SESSION.html in the current folder)")
	return c
}

// writeRecord writes a file that was not there. One that could not be written whole is taken away again, so that the command can
// be given once more.
func writeRecord(name string, page []byte) error {
	file, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fail(ExitFailed, "choose another name with --out; nothing is ever overwritten", "%s is there already", name)
	}
	if err != nil {
		return fail(ExitFailed, "check the name given by --out, or name a folder that can be written", "%w", err)
	}
	_, err = file.Write(page)
	if err = errors.Join(err, file.Close()); err != nil {
		return fail(ExitFailed, "make room, or choose another place with --out", "%w", errors.Join(err, os.Remove(name)))
	}
	return nil
}
