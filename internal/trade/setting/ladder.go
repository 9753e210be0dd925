package setting

import "math"

// State is what a contact of later with earlier material is, by how far the earlier side has gone.
type State int

const (
	Unknown State = iota // no time or no temperature to judge by; to be treated as cold until someone looks
	Live                 // joins fresh to fresh
	Closing              // still fresh, and not for long
	Cold                 // past initial set: what comes now makes a cold joint
)

func (s State) String() string {
	switch s {
	case Live:
		return "live"
	case Closing:
		return "closing"
	case Cold:
		return "cold"
	}
	return "unknown"
}

// ShareStep is what a share is rounded to before it is compared with a limit, so that two machines whose last bits
// differ call a joint by the same word.
const ShareStep = 1e-6

// Rounded is share to the nearest ShareStep.
func Rounded(share float64) float64 { return math.Round(share/ShareStep) * ShareStep }

// Ladder has the shares of initial set at which a contact is called by the next word. A choice, not a standard.
type Ladder struct {
	Amber   float64 // worth watching; still Live
	Closing float64
	Cold    float64 // initial set itself, unless a site is stricter
}

// Suggested is the ladder for a site that states none: amber from half of initial set, closing from 80 %, cold from
// initial set on. Our choice, no source.
var Suggested = Ladder{Amber: 0.5, Closing: 0.8, Cold: 1}

// State is the word for a share; a share at a limit is already past it. Unknown where share is not a number or below 0.
func (l Ladder) State(share float64) State {
	share = Rounded(share)
	switch {
	case !(share >= 0):
		return Unknown
	case share >= Rounded(l.Cold):
		return Cold
	case share >= Rounded(l.Closing):
		return Closing
	}
	return Live
}

// Watch says whether share is past Amber.
func (l Ladder) Watch(share float64) bool { return Rounded(share) >= Rounded(l.Amber) }
