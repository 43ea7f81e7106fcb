package live

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whatever this machine has, the answer is a list that makes sense or the error that says why there is none.
func TestDevices(t *testing.T) {
	list, err := Devices()
	if !Available {
		assert.Equal(t, ErrUnavailable, err)
		assert.Empty(t, list)
		return
	}
	require.NoError(t, err)
	inputs, outputs := 0, 0
	for _, d := range list {
		assert.NotEmpty(t, d.Name)
		assert.NotEmpty(t, d.HostAPI)
		assert.True(t, d.MaxInputs >= 0 && d.MaxOutputs >= 0)
		assert.Subset(t, []int{44100, 48000, 88200, 96000, 192000, int(d.DefaultRate)}, d.Rates)
		assert.IsIncreasing(t, append([]int{0}, d.Rates...))
		if d.DefaultInput {
			inputs++
			assert.Positive(t, d.MaxInputs)
		}
		if d.DefaultOutput {
			outputs++
			assert.Positive(t, d.MaxOutputs)
		}
	}
	assert.LessOrEqual(t, inputs, 1)
	assert.LessOrEqual(t, outputs, 1)

	again, err := Devices()
	require.NoError(t, err, "the library can be started again")
	assert.Len(t, again, len(list))
}

func TestOpenWithoutLiveAudio(t *testing.T) {
	s, err := Open(Options{})
	assert.Error(t, err, "with live audio: no channel for the tone")
	assert.Nil(t, s)
	assert.Equal(t, !Available, errors.Is(err, ErrUnavailable))
}
