package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhatTheGuidedJobMustKnow(t *testing.T) {
	e, err := ParseEngine("e.toml", change(t, "single.toml", `advance = "full travel"`, `advance = "full travel"
hold = "a wedge"
[breaker]
coils = ["red lead"]
source_coil = "stays on"
[x]`))
	assert.Empty(t, e)
	require.ErrorContains(t, err, "table breaker already exists")
	e, err = ParseEngine("e.toml", change(t, "twin.toml", "[breaker]", "hold = \"x\"\n[breaker]\ncoils = [\"red\", \"black\"]\nsource_coil = \"comes off\""))
	assert.Empty(t, e)
	require.EqualError(t, err, `e.toml:14:1: timing.hold: got "x" with advance "none", want no such line: there are no weights`)
	e, err = ParseEngine("e.toml", change(t, "twin.toml", "[breaker]", "[breaker]\ncoils = [\"red\", \"black\"]\nsource_coil = \"comes off\""))
	require.NoError(t, err)
	assert.Equal(t, []string{"red", "black"}, e.Coils)
	assert.Equal(t, ComesOff, e.SourceCoil)
	assert.Empty(t, e.Ignition, "not said")

	for _, tc := range []struct{ line, by, want string }{
		{`name = "Lathe-shed twin"`, "name = \"x\"\nignition = \"dynamo\"", `e.toml:3:1: ignition: got "dynamo", want "battery" or "magneto", or no such line`},
		{"[breaker]", "hold = \"\"\n[breaker]", `timing.hold: got "", want what holds the weights there`},
		{"[breaker]", "[breaker]\nsource_coil = true", `breaker.source_coil: got true, want "comes off" or "stays on"`},
		{"[breaker]", "[breaker]\ncoils = [\"red\"]", `e.toml:15:1: breaker.coils: got [red], want one text for each set of points such as ["red lead", "black lead"]; there are 2 sets`},
		{"[breaker]", "[breaker]\ncoils = \"red\"", `breaker.coils: got "red", want one text for each`},
		{"[breaker]", "[breaker]\ncoils = [1, \"\"]", `breaker.coils: got 1, want one text`},
	} {
		_, err := ParseEngine("e.toml", change(t, "twin.toml", tc.line, tc.by))
		assert.ErrorContains(t, err, tc.want)
	}
	battery := change(t, "twin.toml", "[timing]", "ignition = \"battery\"\n[timing]")
	_, err = ParseEngine("e.toml", append(battery, "source_coil = \"stays on\"\n"...))
	assert.ErrorContains(t, err, `breaker.source_coil: got "stays on" with battery ignition, want no such line`)
}
