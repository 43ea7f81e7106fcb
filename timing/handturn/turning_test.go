package handturn

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestPassByPassIsTheRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := draw(t)
		run, err := s.Run()
		require.NoError(t, err)
		turning, err := s.Begin()
		require.NoError(t, err)
		var all []Change
		for i, st := range run.Stages {
			if i > 0 {
				require.NoError(t, turning.Go(s.Stages[i]))
			}
			for _, want := range st.Passes {
				got, changes, err := turning.Pass()
				require.NoError(t, err)
				require.Equal(t, want, got)
				require.NotEmpty(t, changes)
				require.Greater(t, changes[0].At, got.From)
				require.Less(t, changes[len(changes)-1].At, got.To)
				all = append(all, changes...)
			}
		}
		require.Equal(t, run.Changes, all)
	})
}

func TestTurningRefusesWhatTheRunWould(t *testing.T) {
	s := twin(t)
	s.Hand.Nudge = 0
	_, err := s.Begin()
	require.ErrorContains(t, err, "handturn: nudge [degrees], got 0")

	turning, err := twin(t).Begin()
	require.NoError(t, err)
	bad := twin(t).Stages[0]
	bad.Opens = 80
	require.ErrorContains(t, turning.Go(bad), "handturn: timing: travel, got")
	p, _, err := turning.Pass()
	require.NoError(t, err)
	assert.InDelta(t, 21.5, float64(p.Opens), 0.5, "the stage is still the first; five times the scatter")
}
