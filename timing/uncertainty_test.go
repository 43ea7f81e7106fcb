package timing

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// JCGM 100:2008, H.1: a gauge block; u_c 32 nm, nu_eff 16, k 2.92, U99 93 nm as printed. The last component is printed
// as 16.6 and 16.7; to more digits it is l alpha u = 50.000623e6 nm · 11.5e-6 · 0.029. 31.71061 and 16.65606 were computed
// independently with mpmath.
func TestGUMH1(t *testing.T) {
	u, df := Combine([]Component{{U: 25, DF: 18}, {U: 9.7, DF: 25.6}, {U: 2.9, DF: 50}, {U: 50.000623e6 * 11.5e-6 * 0.029, DF: 2}})
	assert.InDelta(t, 31.71061, u, 5e-5, "inputs to six digits")
	assert.InDelta(t, 16.65606, df, 5e-5, "inputs to six digits")
	assert.InDelta(t, 2.92, student(math.Floor(df)).Quantile(0.995), 0.005, "k as printed")
	assert.InDelta(t, 93, math.Round(u)*student(math.Floor(df)).Quantile(0.995), 0.5, "U99 as printed")
}

// JCGM 100:2008, G.4.1, from memory: 1.03 %, nu 19.0, t95 2.09, U 2.2 %; more digits computed independently with mpmath.
func TestGUMG41(t *testing.T) {
	u, df := Combine([]Component{{U: 0.25, DF: 9}, {U: 0.57, DF: 4}, {U: 0.82, DF: 14}})
	assert.InDelta(t, 1.029466, u, 5e-7, "seven digits given")
	assert.InDelta(t, 18.99874, df, 5e-6, "seven digits given")
	assert.InDelta(t, 2.2, u*student(df).Quantile(0.975), 0.05, "as printed")
}

// JCGM 100:2008, H.2: resistance R and reactance X of an element from means of voltage, current and phase that were read
// together and so are correlated. Readings of Table H.2 [from memory]; results as printed. Correlated inputs are taken apart into
// independent ones (Cholesky), as Difference takes what is common to both results apart from what is not.
func TestGUMH2(t *testing.T) {
	volt := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	ampere := []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
	phase := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
	data := mat.NewDense(5, 3, nil)
	for i := range volt {
		data.SetRow(i, []float64{volt[i], ampere[i], phase[i]})
	}
	var cov mat.SymDense
	stat.CovarianceMatrix(&cov, data, nil)
	cov.ScaleSym(1.0/5, &cov) // of the means
	v, i, phi := stat.Mean(volt, nil), stat.Mean(ampere, nil), stat.Mean(phase, nil)
	var chol mat.Cholesky
	require.True(t, chol.Factorize(&cov))
	var root mat.TriDense
	chol.LTo(&root)
	// independent returns what a result with these sensitivities gets from each independent part.
	independent := func(sensitivity ...float64) (parts []Component, by []float64) {
		for k := range 3 {
			var x float64
			for j, c := range sensitivity {
				x += c * root.At(j, k)
			}
			parts, by = append(parts, Component{U: math.Abs(x), DF: 4}), append(by, x)
		}
		return parts, by
	}
	z := v / i
	forR, byR := independent(math.Cos(phi)/i, -z*math.Cos(phi)/i, -z*math.Sin(phi))
	forX, byX := independent(math.Sin(phi)/i, -z*math.Sin(phi)/i, z*math.Cos(phi))
	forZ, byZ := independent(1/i, -z/i, 0)
	uR, _ := Combine(forR)
	uX, _ := Combine(forX)
	uZ, _ := Combine(forZ)
	assert.InDelta(t, 127.732, z*math.Cos(phi), 5e-4, "as printed")
	assert.InDelta(t, 219.847, z*math.Sin(phi), 5e-4, "as printed")
	assert.InDelta(t, 254.260, z, 5e-4, "as printed")
	assert.InDelta(t, 0.071, uR, 5e-4, "as printed")
	assert.InDelta(t, 0.295, uX, 1e-3, "as printed, which is cut, not rounded: 0.29558")
	assert.InDelta(t, 0.236, uZ, 5e-4, "as printed")
	assert.InDelta(t, -0.588, floats.Dot(byR, byX)/(uR*uX), 5e-4, "as printed")
	assert.InDelta(t, -0.485, floats.Dot(byR, byZ)/(uR*uZ), 5e-4, "as printed")
	assert.InDelta(t, 0.993, floats.Dot(byX, byZ)/(uX*uZ), 5e-4, "as printed")
}

// JCGM 100:2008, Table G.2.
func TestGUMTableG2(t *testing.T) {
	for _, tc := range []struct{ df, percent, want float64 }{
		{1, 95, 12.71}, {19, 95, 2.09}, {1, 68.27, 1.84}, {11, 99, 3.11}, {20, 90, 1.72}, {5, 99.73, 5.51},
		{math.Inf(1), 95, 1.96}, {1e7, 95, 1.96}, // the table's last line
	} {
		assert.InDelta(t, tc.want, student(tc.df).Quantile((1+tc.percent/100)/2), 0.005, "t%g(%g) as printed", tc.percent, tc.df)
	}
}

func TestCombineWithoutScatter(t *testing.T) {
	// Rectangular half-width a: a/sqrt 3; resolution q: q/sqrt 12 (JCGM 100:2008, 4.3.7).
	u, df := Combine([]Component{{U: 3, DF: math.Inf(1)}, {U: 4, DF: math.Inf(1)}})
	assert.Equal(t, 5.0, u)
	assert.True(t, math.IsInf(df, 1))
	u, df = Combine(nil)
	assert.Zero(t, u)
	assert.True(t, math.IsInf(df, 1))
}

// The formula of pooled, worked by hand.
func TestPooled(t *testing.T) {
	of := func(n int, variance, reading float64) series {
		return series{passes: make([]pass, n), variance: variance, reading: reading}
	}
	kappa, q := 0.2, 0.01
	v := (0.03*0.03+0.05*0.05)/2/12 + q*q/24
	own := of(2, 0.0008, v)
	others := []series{own, of(1, 0, 0), of(4, 0.0002, 0)}
	sd, df := pooled(own, others, kappa, 0)
	assert.InDelta(t, 2+1+3, df, 0)
	assert.InDelta(t, math.Sqrt((2*(0.18*0.18*0.2*0.2+v)+1*0.0008+3*0.0002)/6), sd, 1e-15, "rounding only")
	// One degree of freedom spent on the lag of stops.
	sd, df = pooled(own, others, kappa, 1)
	assert.InDelta(t, 5, df, 0)
	assert.InDelta(t, math.Sqrt((2*(0.18*0.18*0.2*0.2+v)+1*0.0008+3*0.0002)/5), sd, 1e-15)
	// Passes that scatter by 0.1 mm, 25 times the variance that is believed and more, leave little of the prior.
	wild := of(4, 0.01, v)
	believed := 0.18*0.18*0.2*0.2 + v
	sd, df = pooled(wild, []series{wild}, kappa, 0)
	assert.InDelta(t, 3+2*4*believed/0.01, df, 1e-12)
	assert.InDelta(t, math.Sqrt((2*4*believed/0.01*believed+3*0.01)/df), sd, 1e-12)
	few := of(3, 0.01, v)
	_, df = pooled(few, []series{few}, kappa, 0)
	assert.InDelta(t, 4, df, 0, "two degrees of freedom are too few to contradict")
	// One pass alone: the prior is all there is, and it is finite.
	sd, df = pooled(of(1, 0, v), []series{of(1, 0, v)}, kappa, 0)
	assert.InDelta(t, 2, df, 0)
	assert.InDelta(t, math.Sqrt(0.18*0.18*0.2*0.2+v), sd, 1e-15)
}

// Eight brackets of 0.2 mm that lie alike tell the opening to their width, not to an eighth of its square.
func TestWideBracketsAlike(t *testing.T) {
	e := evidence{own: series{passes: make([]pass, 8), reading: 0.2 * 0.2 / 12}, sd: 0.05}
	assert.InDelta(t, 0.2*0.2/24, e.alike(8)*e.alike(8)+e.typeA(8)*e.typeA(8), 1e-15)
	e.own.variance = 0.04 * 0.04
	assert.InDelta(t, (0.2*0.2/12-0.04*0.04)/2-0.05*0.05/8, e.alike(8)*e.alike(8), 1e-15)
	e.own.variance = 0.06 * 0.06
	assert.Zero(t, e.alike(8), "they scatter as widely as their widths let them")
	e.own = series{passes: make([]pass, 1), reading: 0.2 * 0.2 / 12}
	assert.Zero(t, e.alike(1), "of one bracket the width is in the scatter")
}

// Each angle's sensitivity is the derivative of travel = y / Ratio; checked against differences.
func TestBudgetAngles(t *testing.T) {
	d := NewDial(10)
	d.PlungerAngle, d.CrownSlope, d.PlungerAngleU, d.CrownSlopeU = 20, 5, 1, 3
	d.ExtensionGive = 0.02
	e := evidence{own: series{passes: make([]pass, 1), mean: 2}, sd: 0.06, df: 4}
	parts := map[string]float64{}
	for _, p := range e.budget(d, 1, e.df) {
		parts[p.Name] = p.U
	}
	diff := func(change func(*Dial, Angle)) float64 {
		hi, lo := d, d
		change(&hi, 0.001)
		change(&lo, -0.001)
		return math.Abs(2/hi.Ratio()-2/lo.Ratio()) / Angle(0.002).Radians()
	}
	// Central differences over 0.001° are good to about 1e-9.
	assert.InDelta(t, diff(func(d *Dial, a Angle) { d.PlungerAngle += a })*Angle(1).Radians(), parts["plunger angle"], 1e-8)
	assert.InDelta(t, diff(func(d *Dial, a Angle) { d.CrownSlope += a })*Angle(3).Radians(), parts["crown slope"], 1e-8)
	assert.InDelta(t, 0.015/math.Sqrt(3)/d.Ratio(), parts["dial, limit of error"], 1e-15)
	assert.InDelta(t, 0.01/math.Sqrt(12)/d.Ratio(), parts["dial, graduation"], 1e-15)
	assert.InDelta(t, 0.02/math.Sqrt(3)/d.Ratio(), parts["extension, give"], 1e-15)
	assert.NotContains(t, parts, "lag after stopping, assumed")
}

// In a straight hole only the plunger's angle matters, and only on a crown that slopes: by y tan beta for each radian.
func TestBudgetAnglesOfAStraightPlunger(t *testing.T) {
	d := NewDial(10)
	d.PlungerAngleU, d.CrownSlopeU = 1, 3
	assert.Empty(t, d.angles(2), "a crown square to the bore")
	d.CrownSlope = 20
	parts := d.angles(2)
	require.Len(t, parts, 1, "the crown's slope makes nothing uncertain")
	assert.Equal(t, "plunger angle", parts[0].Name)
	assert.InDelta(t, 2*0.363970234*math.Pi/180, parts[0].U, 1e-10, "tan 20° to nine digits")
}
