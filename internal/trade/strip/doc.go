// Package strip computes where in a zone each batch of a coat lies, and which batch met which along an edge.
//
// One rule: each placement takes, of what is left of its coat, the area nearest to its start side. It covers a plain
// sweep, a new start side in mid-zone, several crews and openings. A zone is given by an outline, a sector of a ring, a
// mesh, or only by its area and the lengths of its four sides; a Surface turns each into flat patches on which the
// distance from every side is linear, so that a front is a straight cut through them and areas are exact.
//
// Lengths are metres and areas square metres throughout; levels are distances from a start side in the surface's own
// measure (of a ring seen from an arc, half the square of the radius), which Surface.Metres turns into metres.
//
// What a rule says of a place is not what is known of it: a Range tells which placements may lie there when each batch
// is thinner or thicker than said and fronts are not straight. The package takes numbers and returns numbers. Start
// reading at surface.go, then lay.go, along.go and doubt.go.
package strip
