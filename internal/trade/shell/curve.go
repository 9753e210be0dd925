package shell

import "math"

// parabola is the length of a parabolic arc of half-span a and rise h; x is h/a.
func parabola(a, h float64) float64 {
	k := 2 * h / a
	if k < 1e-150 {
		return 2 * a
	}
	return a * (math.Sqrt(1+k*k) + math.Asinh(k)/k)
}

// circle is the length of a circular arc of half-span a and rise h.
func circle(a, h float64) float64 {
	x := h / a
	if x < 1e-150 {
		return 2 * a
	}
	return 2 * a * (1 + x*x) * math.Atan(x) / x
}

// segment is the area between a circular arc of half-span a and rise h and its chord.
func segment(a, h float64) float64 {
	x := h / a
	if x < 1e-150 {
		return 0
	}
	angle := 4 * math.Atan(x)
	r := (1 + x*x) / 2 // radius × x / a
	per := angle / x
	return a * a * r * r / 2 * per * per * per * x * lessSine(angle)
}

// lessSine is (θ − sin θ)/θ³, which loses its digits for small θ when computed as written.
func lessSine(theta float64) float64 {
	if theta > 0.5 {
		return (theta - math.Sin(theta)) / (theta * theta * theta)
	}
	q := theta * theta
	return 1.0 / 6 * (1 - q/20*(1-q/42*(1-q/72*(1-q/110*(1-q/156)))))
}

// moreSinh is (sinh u − u)/u³.
func moreSinh(u float64) float64 {
	if u > 0.5 {
		return (math.Sinh(u) - u) / (u * u * u)
	}
	q := u * u
	return 1.0 / 6 * (1 + q/20*(1+q/42*(1+q/72*(1+q/110*(1+q/156)))))
}

// hanging is half-span over parameter of the catenary whose rise is ratio times its half-span: the u with
// 2 sinh²(u/2)/u = ratio.
func hanging(ratio float64) float64 {
	if ratio < 1e-150 {
		return 0
	}
	f := func(u float64) float64 { s := math.Sinh(u / 2); return 2 * s * s / u }
	// f(u) is at least u/2; and at 2 ln(2 + 4 ratio) it is above the ratio, where Newton from 2 ratio would take a step
	// of 1 for each e in it.
	low, high := 0.0, min(2*ratio, 2*math.Log(2+4*ratio))
	u := high
	if ratio < 1 {
		u = 2 * ratio * (1 - ratio*ratio/3)
	}
	for range 200 {
		miss := f(u) - ratio
		if miss > 0 {
			high = u
		} else {
			low = u
		}
		// f' = (u sinh u − cosh u + 1)/u² = sinh(u)/u − f/u
		next := u - miss/(math.Sinh(u)/u-f(u)/u)
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-u) <= 1e-16*u {
			return next
		}
		u = next
	}
	return u
}
