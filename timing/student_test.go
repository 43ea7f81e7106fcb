package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
)

// The finite sums against gonum's incomplete beta function, an independent way to the same figures.
func TestStudentAgainstGonum(t *testing.T) {
	for _, df := range []float64{1, 2, 3, 4, 5, 6, 7, 10, 19, 32, 59, 60, 61, 2.5} {
		for x := -40.0; x <= 40; x += 0.37 {
			want := distuv.StudentsT{Sigma: 1, Nu: df}.CDF(x)
			assert.InDelta(t, want, student(df).CDF(x), 1e-13, "%g degrees of freedom at %g", df, x)
		}
		assert.Equal(t, 0.5, student(df).CDF(0))
		assert.InDelta(t, 0.975, student(df).CDF(student(df).Quantile(0.975)), 1e-10)
	}
	assert.InDelta(t, distuv.UnitNormal.CDF(1.3), student(math.Inf(1)).CDF(1.3), 0)
}

func BenchmarkStudentCDF(b *testing.B) {
	for name, cdf := range map[string]func(float64) float64{"ours": student(7).CDF, "gonum": distuv.StudentsT{Sigma: 1, Nu: 7}.CDF} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				cdf(1.7)
			}
		})
	}
}
