package report

import (
	"errors"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// noEnd are the elements without an end tag (WHATWG HTML, "Void elements"); of SVG those that are written as <x/> end themselves.
var noEnd = []string{"meta", "br", "img", "input", "link", "hr"}

// unclosed returns what is wrong with the nesting of the tags, "" for nothing.
func unclosed(page string) string {
	z := html.NewTokenizer(strings.NewReader(page))
	var open []string
	for {
		kind := z.Next()
		tag := z.Token().Data
		switch {
		case kind == html.ErrorToken && errors.Is(z.Err(), io.EOF):
			return strings.Join(open, " ")
		case kind == html.ErrorToken:
			return z.Err().Error()
		case kind == html.StartTagToken && !slices.Contains(noEnd, tag):
			open = append(open, tag)
		case kind == html.EndTagToken:
			if len(open) == 0 || open[len(open)-1] != tag {
				return "end of " + tag + " within " + strings.Join(open, " ")
			}
			open = open[:len(open)-1]
		}
	}
}

// elements returns all elements of a page in their order.
func elements(t require.TestingT, page string) (out []*html.Node) {
	root, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	for n := range root.Descendants() {
		if n.Type == html.ElementNode {
			out = append(out, n)
		}
	}
	return out
}

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// text is all that stands in an element.
func text(n *html.Node) string {
	var out strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			out.WriteString(d.Data)
		}
	}
	return strings.TrimSpace(out.String())
}

// child returns the first element of that name right below n.
func child(n *html.Node, name string) *html.Node {
	for c := range n.ChildNodes() {
		if c.Type == html.ElementNode && c.Data == name {
			return c
		}
	}
	return nil
}

// checkPage holds a page against what WCAG 2.2 asks for in its parts that a program can see (success criteria 1.1.1, 1.3.1,
// 2.4.2 and 3.1.1 in W3C's words), and against what keeps it by itself: no script, nothing fetched.
func checkPage(t require.TestingT, page string) {
	require.Empty(t, unclosed(page), "tags that do not nest")
	require.Regexp(t, `^<!DOCTYPE html>\n<html lang="en">\n`, page)
	require.NotRegexp(t, `[\x00-\x08\x0b-\x1f\x7f-\x{9f}\x{202a}-\x{202e}\x{2066}-\x{2069}\x{fdd0}-\x{fdef}\x{fffe}\x{ffff}]`, page)
	ids, level := map[string]*html.Node{}, 0
	all := elements(t, page)
	for _, n := range all {
		require.Contains(t, elementsUsed, n.Data)
		for _, a := range n.Attr {
			require.Contains(t, attributesUsed, a.Key, n.Data)
		}
		if id := attribute(n, "id"); id != "" {
			require.NotContains(t, ids, id)
			ids[id] = n
		}
		if h := regexp.MustCompile(`^h([1-6])$`).FindStringSubmatch(n.Data); h != nil {
			now, _ := strconv.Atoi(h[1])
			require.LessOrEqual(t, now, level+1, "a heading skips a level: %s", text(n))
			require.Equal(t, level == 0, now == 1, "one h1, and first")
			require.NotEmpty(t, text(n))
			level = now
		}
	}
	for _, n := range all {
		switch n.Data {
		case "title":
			require.NotEmpty(t, text(n))
		case "th":
			require.Contains(t, []string{"col", "row"}, attribute(n, "scope"))
		case "table":
			require.NotNil(t, child(n, "caption"))
			require.NotEmpty(t, text(child(n, "caption")))
		case "tr":
			cells := 0
			for range n.ChildNodes() {
				cells++
			}
			require.Positive(t, cells)
		case "svg":
			require.Equal(t, "img", attribute(n, "role"))
			for i, id := range strings.Fields(attribute(n, "aria-labelledby")) {
				require.Contains(t, ids, id)
				require.Equal(t, []string{"title", "desc"}[i], ids[id].Data)
				require.NotEmpty(t, text(ids[id]))
			}
			require.NotNil(t, child(n, "title"))
			require.NotNil(t, child(n, "desc"))
		case "path":
			require.Regexp(t, `^[-0-9.MHVahlmvz ]*$`, attribute(n, "d"))
		}
	}
}

// What a record is made of: nothing that runs or fetches.
var (
	elementsUsed = strings.Fields("html head meta title style body main h1 h2 h3 p ul li dl div dt dd bdi table caption thead tbody tr th td figure figcaption " +
		"svg desc rect path text span pre strong")
	attributesUsed = strings.Fields("lang charset name content class id role aria-labelledby aria-label aria-hidden tabindex scope dir viewBox x y dy width height d")
)

func TestEveryPageIsSound(t *testing.T) {
	for name, page := range samples(t) {
		t.Run(name, func(t *testing.T) { checkPage(t, page) })
	}
}

// Whatever is typed or named: it never becomes markup.
func TestNothingTypedBreaksThePage(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		any := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"<!--", "-->", "]]>", "<svg>", "</table>", "</pre>", "{{.}}", "\\", "*/", "\"", "url(http://x)"}))
		s := begun(t, "twin.toml", "dial.toml")
		b := s.j.Entries[0].Data.(logbook.Begin)
		b.Session, b.Name, b.Input, b.Engine = any.Draw(rt, "session"), any.Draw(rt, "name"), any.Draw(rt, "input"), any.Draw(rt, "engine")
		s.j.Entries[0].Data = b
		first := s.passes(any.Draw(rt, "cylinder"), logbook.AsFound, "2.03/1.98", any.Draw(rt, "reading"))
		s.add(logbook.Caveat{Message: any.Draw(rt, "caveat")})
		s.add(logbook.Amend{Seq: first, Field: "text", From: raw(t, any.Draw(rt, "from")), To: raw(t, any.Draw(rt, "to")), Why: any.Draw(rt, "why"), Who: any.Draw(rt, "who")})
		checkPage(rt, s.page(t))
	})
}

func TestSameJournalSameBytes(t *testing.T) {
	for _, make := range []func(testing.TB) *sample{twin, hostile, guided} {
		assert.Equal(t, make(t).page(t), make(t).page(t))
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestWriteTellsOfItsWriter(t *testing.T) {
	s := twin(t)
	r, err := session.FromJournal(s.j)
	require.NoError(t, err)
	assert.EqualError(t, Write(full{}, s.j, r), "no room")
	assert.ErrorContains(t, Write(full{}, logbook.Journal{}, r), "got no beginning")
}

// contrast is the contrast ratio of two colours #rrggbb or #rgb (W3C, WCAG 2.2, "contrast ratio" and "relative luminance").
func contrast(t *testing.T, a, b string) float64 {
	luminance := func(colour string) float64 {
		hex := strings.TrimPrefix(colour, "#")
		if len(hex) == 3 {
			hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
		}
		require.Len(t, hex, 6, colour)
		out := 0.0
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			n, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
			require.NoError(t, err)
			c := float64(n) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			out += weight * c
		}
		return out
	}
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestContrast(t *testing.T) {
	assert.InDelta(t, 21, contrast(t, "#000", "#ffffff"), 1e-9, "black on white: the largest there is, by the definition")
	assert.InDelta(t, 4.54, contrast(t, "#767676", "#fff"), 0.005, "a value often given, from memory; two places")
	style, err := files.ReadFile("style.css")
	require.NoError(t, err)
	// text and what it stands on, as the style sheet gives them
	const ink, paper, grey, line = "#111", "#fff", "#e6e6e6", "#767676"
	colours := map[string]bool{}
	for _, c := range regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b`).FindAllString(string(style), -1) {
		colours[c] = true
	}
	assert.ElementsMatch(t, []string{ink, paper, grey, line}, slices.Collect(maps.Keys(colours)), "a colour without its check")
	for _, m := range regexp.MustCompile(`[ {;](?:color|fill): ?(#\w+)`).FindAllStringSubmatch(string(style), -1) {
		assert.NotEqual(t, line, m[1], "too pale for text")
	}
	assert.GreaterOrEqual(t, contrast(t, ink, paper), 7.0, "success criterion 1.4.6, enhanced")
	assert.GreaterOrEqual(t, contrast(t, ink, grey), 7.0, "heads of tables, the band of the pictures")
	assert.GreaterOrEqual(t, contrast(t, line, paper), 3.0, "success criterion 1.4.11: lines that are no text")
	assert.NotRegexp(t, `url\(|@import|\b(rgb|hsl)a?\(`, string(style), "nothing from outside, no colour that is not checked")
}
