package session

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing"
)

// reportSchema is the published schema of a report (JSON Schema, draft 2020-12).
func reportSchema(t testing.TB) *jsonschema.Schema {
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	s, err := c.Compile("testdata/session-1.schema.json")
	require.NoError(t, err)
	return s
}

// asJSON is a report as another program reads it.
func asJSON(t testing.TB, r Report) any {
	raw, err := json.Marshal(r)
	require.NoError(t, err)
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(string(raw)))
	require.NoError(t, err)
	return v
}

// Every kind of report keeps to the published schema.
func TestReportsKeepToTheirSchema(t *testing.T) {
	schema := reportSchema(t)
	for name, lines := range map[string]string{
		"nothing typed":       "",
		"one pass":            "# left as_found\n2.20/2.14\n",
		"unusable":            "# left as_found\nabout two\n-\n",
		"stops":               "# left as_found\n2.20\n2.21\n2.22\n",
		"both, before, after": "# left as_found\n2.20/2.14\n2.18/2.15\n# right as_found\n2.03/1.98\n2.01/1.99\n# left as_left\n2.01/1.98\n2.02/1.99\n# right as_left\n2.02/1.99\n2.03/1.98\n",
	} {
		dir, _, _ := recorded(t, 9, lines)
		assert.NoError(t, schema.Validate(asJSON(t, reported(t, dir))), name)
	}
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	assert.NoError(t, schema.Validate(asJSON(t, Refused(s, "x", "x.wav", []timing.Caveat{{Code: "refused", Message: "too quiet"}}))))
}

// The schema is no rubber stamp: whatever field is missing, added or of another kind is told.
func TestTheSchemaRefuses(t *testing.T) {
	schema := reportSchema(t)
	dir, _, _ := recorded(t, 3, "# left as_found\n2.20/2.14\n2.18/2.15\n")
	for name, spoil := range map[string]func(m, phase map[string]any){
		"field missing":        func(m, _ map[string]any) { delete(m, "engine") },
		"field of an unknown":  func(m, _ map[string]any) { m["colour"] = "red" },
		"another schema":       func(m, _ map[string]any) { m["schema"] = "breakcue.session/2" },
		"no time":              func(m, _ map[string]any) { m["begun"] = "yesterday" },
		"unknown verdict":      func(_, p map[string]any) { p["verdict"] = "fine" },
		"an error and no pass": func(_, p map[string]any) { p["n"] = json.Number("0") },
		"text for a number":    func(_, p map[string]any) { p["error_mm"] = "0.1" },
		"impossible":           func(_, p map[string]any) { p["probability_in_tolerance"] = json.Number("1.1") },
	} {
		m := asJSON(t, reported(t, dir)).(map[string]any)
		require.NoError(t, schema.Validate(m))
		spoil(m, m["cylinders"].([]any)[0].(map[string]any)["phases"].([]any)[0].(map[string]any))
		assert.Error(t, schema.Validate(m), name)
	}
}

// The schema says of itself that it is one: it keeps to the published one of the draft.
func TestTheSchemaIsOne(t *testing.T) {
	f, err := os.Open("testdata/session-1.schema.json")
	require.NoError(t, err)
	defer f.Close()
	v, err := jsonschema.UnmarshalJSON(f)
	require.NoError(t, err)
	meta, err := jsonschema.NewCompiler().Compile("https://json-schema.org/draft/2020-12/schema")
	require.NoError(t, err)
	assert.NoError(t, meta.Validate(v))
}
