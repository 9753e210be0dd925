// Package placed is what lies in the zones: coats with their placements, covers, treatments, probes and temperatures,
// how far each coat is, and how strong it may be.
//
// A coat is finished by what people say or do, see finish.go; its material's temperature is that of a probe, else the
// batch's going over to the air's, see warmth.go. A zone is worked out again only where one of its events, its batches,
// the plan or the air of its time changed. What meets what is for package joint.
package placed
