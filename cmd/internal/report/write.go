package report

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"unicode"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

//go:embed page.html parts.html plot.html style.css
var files embed.FS

// Write writes the record of a session. r is what session.FromJournal makes of j. Errors are those of session.SheetsOf, and w's.
func Write(w io.Writer, j logbook.Journal, r session.Report) error {
	p, err := newPage(j, r)
	if err != nil {
		return err
	}
	style, err := files.ReadFile("style.css")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	p.Style = template.CSS(style) //nolint:gosec // our own file
	t, err := template.New("page.html").ParseFS(files, "*.html")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	var out bytes.Buffer
	if err := t.Execute(&out, p); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	_, err = w.Write(bytes.Map(printable, out.Bytes()))
	return err
}

// printable takes out of a page what a reader would not see for what it is. Controls and code points that are no characters are
// not allowed in HTML (WHATWG HTML, "Preprocessing the input stream"); the embeddings, overrides and isolates of the
// bidirectional algorithm (UAX #9) could show a figure in another order than it was typed in.
func printable(r rune) rune {
	switch {
	case r == '\r':
		return -1
	case r == '\n' || r == '\t':
		return r
	case unicode.IsControl(r), r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r&0xfffe == 0xfffe, r >= 0xfdd0 && r <= 0xfdef:
		return unicode.ReplacementChar
	}
	return r
}
