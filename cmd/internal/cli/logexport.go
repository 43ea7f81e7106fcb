package cli

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// exportFlags is what `log export` was asked to do.
type exportFlags struct {
	dir, format, decimal, out string
	all                       bool
}

func newLogExport(env Env) *cobra.Command {
	var f exportFlags
	c := &cobra.Command{
		Use:   "export SESSION... | --all",
		Short: "Write sessions as a table for a spreadsheet, or as JSON",
		Long: `Write sessions for other programs, corrections applied.

csv has one line for each pass, with its reading and opening and what all passes of its cylinder and phase came to: RFC 4180,
UTF-8, the names of the columns in the first line. With --decimal comma numbers have a decimal comma, and a semicolon parts
the columns. Text that a spreadsheet would take for a formula (it begins with = + - or @), a date or a number (2/1, 01), or that
begins with an apostrophe, has an apostrophe in front; numbers are numbers. The column reading is what was typed; last_closed
and first_open are its numbers as the dial showed them, travel_mm is what they come to. A file written by --out begins with a
byte order mark, by which spreadsheets know UTF-8.

json is an array of what "breakcue log show --json" prints.`,
		Example: "  breakcue log export 2026-05-04-1011-twin --format csv --out twin.csv\n" +
			"  breakcue log export --all --decimal comma --out all.csv\n  breakcue log export 2026-05 2025-04 --format json",
		Args: func(c *cobra.Command, args []string) error {
			if f.all == (len(args) > 0) {
				return fail(ExitUsage, "run 'breakcue log export --help' for an example", "log export needs one session or more, or --all, got %d arguments", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return f.run(c.Context(), env, args) },
	}
	logDirFlag(c, &f.dir)
	flags := c.Flags()
	flags.StringVar(&f.format, "format", "csv", "csv or json")
	flags.StringVar(&f.decimal, "decimal", "point", "decimal sign of the csv: point or comma")
	flags.StringVar(&f.out, "out", "", "write this file, which must not be there yet (default: standard output)")
	flags.BoolVar(&f.all, "all", false, "export every session")
	return c
}

func (f *exportFlags) run(ctx context.Context, env Env, args []string) error {
	if f.format != "csv" && f.format != "json" {
		return fail(ExitUsage, "run 'breakcue log export --help' for what they hold", "--format %s, want csv or json", f.format)
	}
	if f.decimal != "point" && f.decimal != "comma" {
		return fail(ExitUsage, "a csv has one decimal sign or the other", "--decimal %s, want point or comma", f.decimal)
	}
	if f.decimal == "comma" && f.format == "json" {
		return fail(ExitUsage, "leave --decimal out", "json has decimal points always")
	}
	root, err := logRoot(env, f.dir)
	if err != nil {
		return err
	}
	reports, err := f.reports(ctx, env, root, args)
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if f.format == "json" {
		err = printJSON(&page, reports)
	} else {
		if f.out != "" {
			page.WriteString("\ufeff")
		}
		err = session.WriteCSV(&page, reports, f.decimal == "comma")
	}
	if err != nil {
		return err
	}
	return f.write(env.Out, &page)
}

// reports works out each session. Of all sessions those that cannot be worked out are told and left out.
func (f *exportFlags) reports(ctx context.Context, env Env, root string, args []string) ([]session.Report, error) {
	var folders []string
	if f.all {
		var err error
		if folders, err = logbook.Folders(root); err != nil {
			return nil, noList(err)
		}
	}
	for _, name := range args {
		folder, err := findSession(root, name, "run '"+logCommand("list", f.dir)+"' for the names")
		if err != nil {
			return nil, err
		}
		folders = append(folders, folder)
	}
	reports := []session.Report{}
	var failed []error
	for _, folder := range folders {
		r, _, err := readReport(ctx, env, folder, f.dir)
		if cancelled(err) {
			return nil, err
		}
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if !r.Measured() {
			note(env, "%s: no result in it", filepath.Base(folder))
		}
		reports = append(reports, r)
	}
	if f.all {
		for _, err := range failed {
			note(env, "left out: %v", err)
		}
		return reports, nil
	}
	return reports, errors.Join(failed...)
}

// readReport reads a session and works its report out; damaged lines are noted.
func readReport(ctx context.Context, env Env, folder, dir string) (session.Report, logbook.Journal, error) {
	id := filepath.Base(folder)
	j, err := readJournal(ctx, folder)
	if err != nil {
		return session.Report{}, j, err
	}
	noteJournal(env, id, j)
	r, err := session.FromJournal(j)
	if err != nil {
		return r, j, fail(ExitFailed, "run '"+logCommand("show "+typed(id)+" --entries", dir)+"' for what was written", "%s: %w", id, err)
	}
	return r, j, nil
}

// write brings the page to standard output, or to a file that was not there.
func (f *exportFlags) write(w io.Writer, page *bytes.Buffer) (err error) {
	if f.out == "" {
		_, err := page.WriteTo(w)
		return err
	}
	file, err := os.OpenFile(f.out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fail(ExitFailed, "choose another name; nothing is ever overwritten", "%s is there already", f.out)
	}
	if err != nil {
		return fail(ExitFailed, "check the name given by --out", "%w", err)
	}
	_, err = page.WriteTo(file)
	if err = errors.Join(err, file.Close()); err != nil {
		return fail(ExitFailed, "make room, or choose another place with --out", "%w", err)
	}
	return nil
}
