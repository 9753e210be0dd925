package forecast

import (
	"math"
	"math/bits"
)

// The figures of a forecast are the same on every processor, bit for bit. Processors that multiply and add in one step
// round once where others round twice, so a product that is added to something stands in an explicit conversion, which
// the language forbids to fuse; and the functions below stand in for those of the library, which are built otherwise on
// each. `.ci/run lint` looks for fused instructions in what the compiler makes of this package.

const (
	ln2High = 6.93147180369123816490e-01 // ln 2 but for its last bits, so that a small multiple of it is exact
	ln2Low  = 1.90821492927058770002e-10
)

// exp is e to the x, to within a few units of the last place. Source: Taylor's series after reduction by multiples of
// ln 2.
func exp(x float64) float64 {
	switch {
	case x != x:
		return x
	case x > 700:
		x = 700 // beyond any figure of a job, and not yet infinite; and below, not yet smaller than a normal number
	case x < -700:
		return 0
	}
	k := math.Floor(float64(x*math.Log2E) + 0.5)
	r := x - float64(k*ln2High)
	r -= float64(k * ln2Low)
	sum := overFactorial[len(overFactorial)-1]
	for n := len(overFactorial) - 2; n >= 0; n-- {
		sum = float64(sum*r) + overFactorial[n]
	}
	return float64(sum * math.Float64frombits(uint64(int64(k)+1023)<<52))
}

// overFactorial is 1/n!.
var overFactorial = func() (t [15]float64) {
	t[0] = 1
	for n := 1; n < len(t); n++ {
		t[n] = t[n-1] / float64(n)
	}
	return t
}()

// ln is the natural logarithm of an x above 0. Source: series of the inverse hyperbolic tangent.
func ln(x float64) float64 {
	if !(x > 0) {
		return -700
	}
	m, k := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, k = 2*m, k-1
	}
	s := (m - 1) / (m + 1)
	square := float64(s * s)
	sum := 0.0
	for n := 23; n > 0; n -= 2 {
		sum = float64(sum*square) + 1/float64(n)
	}
	return float64(float64(k)*ln2High) + (float64(2*float64(s*sum)) + float64(float64(k)*ln2Low))
}

// above is the chance that a standard normal value lies above x. Sources: the series of positive terms and the
// continued fraction of the normal integral (Abramowitz and Stegun, 26.2.11 and 26.2.14, from memory).
func above(x float64) float64 {
	if x < 0 {
		return 1 - above(-x)
	}
	if x > 37 {
		return 0
	}
	square := float64(x * x)
	density := exp(-square/2) * (1 / math.Sqrt(2*math.Pi))
	if x < 2.5 {
		term, sum := x, x
		for n := 3; n < 80 && term > 1e-18; n += 2 {
			term = float64(term*square) / float64(n)
			sum += term
		}
		return 0.5 - float64(density*sum)
	}
	f := x
	for n := 60; n > 0; n-- {
		f = x + float64(n)/f
	}
	return density / f
}

// normal is the value below which a standard normal one lies with chance p; p is kept away from 0 and 1 by 1e-300 and
// 1e-16. Source: Wichura 1988, algorithm AS 241 (from memory; number_test.go holds it against the library's).
func normal(p float64) float64 {
	q := p - 0.5
	if math.Abs(q) <= 0.425 {
		r := 0.180625 - float64(q*q)
		return q * ratio(r, centre)
	}
	r := p
	if q > 0 {
		r = 1 - p
	}
	r = math.Sqrt(-ln(min(max(r, 1e-300), 0.5)))
	var x float64
	if r <= 5 {
		x = ratio(r-1.6, shoulder)
	} else {
		x = ratio(r-5, tail)
	}
	if q < 0 {
		return -x
	}
	return x
}

// ratio of two polynomials, lowest terms first: above, then below, whose first is 1.
func ratio(r float64, c [2][8]float64) float64 {
	a, b := c[0][7], c[1][7]
	for i := 6; i >= 0; i-- {
		a, b = float64(a*r)+c[0][i], float64(b*r)+c[1][i]
	}
	return a / b
}

var (
	centre = [2][8]float64{
		{
			3.3871328727963666080, 1.3314166789178437745e2, 1.9715909503065514427e3, 1.3731693765509461125e4,
			4.5921953931549871457e4, 6.7265770927008700853e4, 3.3430575583588128105e4, 2.5090809287301226727e3,
		},
		{
			1, 4.2313330701600911252e1, 6.8718700749205790830e2, 5.3941960214247511077e3, 2.1213794301586595867e4,
			3.9307895800092710610e4, 2.8729085735721942674e4, 5.2264952788528545610e3,
		},
	}
	shoulder = [2][8]float64{
		{
			1.42343711074968357734, 4.63033784615654529590, 5.76949722146069140550, 3.64784832476320460504,
			1.27045825245236838258, 2.41780725177450611770e-1, 2.27238449892691845833e-2, 7.74545014278341407640e-4,
		},
		{
			1, 2.05319162663775882187, 1.67638483018380384940, 6.89767334985100004550e-1, 1.48103976427480074590e-1,
			1.51986665636164571966e-2, 5.47593808499534494600e-4, 1.05075007164441684324e-9,
		},
	}
	tail = [2][8]float64{
		{
			6.65790464350110377720, 5.46378491116411436990, 1.78482653991729133580, 2.96560571828504891230e-1,
			2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7,
		},
		{
			1, 5.99832206555887937690e-1, 1.36929880922735805310e-1, 1.48753612908506148525e-2,
			7.86869131145613259100e-4,
			1.84631831751005468180e-5, 1.42151175831644588870e-7, 2.04426310338993978564e-15,
		},
	}
)

// luck is a whole number that stands for the luck of one thing: a coat, a crew on a day. It hangs on names alone, so
// that a coat keeps its luck from one question to the next and a figure moves only when what it rests on does.
type luck uint64

// luckOf names. Source: Fowler, Noll and Vo's hash FNV-1a (from memory).
func luckOf(names ...string) luck {
	h := uint64(14695981039346656037)
	for _, name := range names {
		for i := 0; i < len(name); i++ {
			h = (h ^ uint64(name[i])) * 1099511628211
		}
		h = (h ^ 0xff) * 1099511628211 // so that "a", "bc" is not "ab", "c"
	}
	return luck(h)
}

// of a numbered part of the thing, such as one day of a crew. Source: the finalizer of SplitMix64 (Steele, Lea and
// Flood 2014, from memory).
func (k luck) of(n int) luck {
	z := uint64(k) + (uint64(n)+1)*0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return luck(z ^ z>>31)
}

// share is a number between 0 and 1, both excluded.
func (k luck) share() float64 { return (float64(uint64(k)>>11) + 0.5) * (1.0 / (1 << 53)) }

// rank is which of so many equal shares (bells) the luck of the thing falls into in draw i: over the draws, each once,
// so that a thousand draws tell as much of one thing as many more thrown blindly. Sources: Latin hypercubes (McKay,
// Beckman and Conover 1979) by permutations of Feistel's kind (Luby and Rackoff 1988), both from memory.
func (k luck) rank(i int) int {
	left, right := uint64(i)>>5&31, uint64(i)&31
	for round := range 4 {
		mixed := (uint64(k)>>(8*round) ^ (right+1)*0x9e3779b97f4a7c15) * 0xbf58476d1ce4e5b9
		left, right = right, left^mixed>>59
	}
	return int(left<<5 | right)
}

// spread is a number between 0 and 1 for draw i, in the share of its rank.
func (k luck) spread(i int) float64 { return (float64(k.rank(i)) + float64(k.of(i).share())) / bells }

// normal is a standard normal number.
func (k luck) normal() float64 { return normal(k.share()) }

// bells are standard normal values at the middles of as many equal shares, for lots that are drawn by the thousand.
const bells = 1024

func bell(of func(z float64) float64) (t [bells]float64) {
	for i := range t {
		t[i] = of(normal((float64(i) + 0.5) / bells))
	}
	return t
}

// lattice gives point i of dimension j, between 0 and 1, of a sequence that fills a cube of any dimension evenly: i
// times the square root of the j-th prime, whole part left out, in whole numbers. Source: Kronecker's lattices with
// Richtmyer's roots (Niederreiter 1992, from memory).
type lattice []uint64

func latticeOf(dimensions int) lattice {
	var l lattice
	for n := 2; len(l) < dimensions; n++ {
		if prime(n) {
			root := math.Sqrt(float64(n))
			l = append(l, uint64(math.Ldexp(root-math.Floor(root), 53))<<11)
		}
	}
	return l
}

func prime(n int) bool {
	for d := 2; d*d <= n; d++ {
		if n%d == 0 {
			return false
		}
	}
	return true
}

func (l lattice) at(i, j int) float64 {
	_, x := bits.Mul64(uint64(i)+1, l[j])
	return luck(x + 0x8000000000000000).share()
}
