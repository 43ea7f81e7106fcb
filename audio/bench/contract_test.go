package bench

import (
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"

	"github.com/stretchr/testify/require"
)

func TestSourceContract(t *testing.T) {
	for name, c := range map[string]Config{"plain": plain(), "full": full()} {
		t.Run(name, func(t *testing.T) {
			audiotest.Check(t, func() audio.Source {
				b, err := New(c)
				require.NoError(t, err)
				return b
			}, 0)
		})
	}
}
