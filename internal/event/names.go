package event

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	hodv1 "hod/proto/hod/v1"
)

// Names of things on the site, each with a type of its own: 1 to MaxName letters, digits, - and _.
type (
	Device   string
	Crew     string
	Zone     string
	Mix      string
	Material string // the name of a constituent, in a mix and in stock alike
)

// Face of a shell.
type Face int

// The faces; AnyFace is said where it goes without saying, and for both.
const (
	AnyFace Face = iota
	Outer
	Inner
)

var faces = words{"any", "outer", "inner"}

func (f Face) String() string { return faces.word("face", int(f)) }

// ParseFace reads "outer", "inner", "any"; nothing is any.
func ParseFace(s string) (Face, error) {
	if s == "" {
		return AnyFace, nil
	}
	n, err := faces.parse("face", s, 0)
	return Face(n), err
}

func (f Face) check() error { return faces.check("face", int(f), 0) }

// Coat names one planned pass over a zone.
type Coat struct {
	Zone   Zone
	Face   Face
	Number int // 1 is the first on its face
}

// String is "A3 outer 1"; the face is left out where none is said.
func (c Coat) String() string {
	if c.Face == AnyFace {
		return fmt.Sprintf("%s %d", c.Zone, c.Number)
	}
	return fmt.Sprintf("%s %s %d", c.Zone, c.Face, c.Number)
}

// MaxCoats is the highest number of a coat.
const MaxCoats = 99

func (c Coat) check() error {
	return first(checkName("zone", c.Zone), c.Face.check(), checkCount("coat number", c.Number, 1, MaxCoats))
}

func (c Coat) proto() *hodv1.CoatRef {
	if c == (Coat{}) {
		return nil
	}
	return &hodv1.CoatRef{Zone: string(c.Zone), Face: hodv1.Face(c.Face), Number: uint32(c.Number)}
}

func coatOf(p *hodv1.CoatRef) Coat {
	return Coat{Zone(p.GetZone()), Face(p.GetFace()), count(p.GetNumber())}
}

// Batch names one mixer load: crew, the crew's local date (2006-01-02) and its number that day.
type Batch struct {
	Crew   Crew
	Day    string
	Number int
}

// String is "north/2026-07-18/7".
func (b Batch) String() string { return fmt.Sprintf("%s/%s/%d", b.Crew, b.Day, b.Number) }

// ParseBatch reads "north/2026-07-18/7", "north/7" and "7"; the crew and the day that are not said are those given.
func ParseBatch(s string, crew Crew, day string) (Batch, error) {
	f := strings.Split(s, "/")
	switch len(f) {
	case 3:
		crew, day = Crew(f[0]), f[1]
	case 2:
		crew = Crew(f[0])
	case 1:
	default:
		return Batch{}, cannot("%q is not the name of a batch; one looks like 7, north/7 or north/2026-07-18/7",
			clip(s))
	}
	n, err := strconv.Atoi(f[len(f)-1])
	if err != nil {
		return Batch{}, cannot("%q is not the name of a batch; one looks like 7, north/7 or north/2026-07-18/7",
			clip(s))
	}
	b := Batch{crew, day, n}
	return b, b.check()
}

// MaxBatches is the highest number of a batch on one crew's day.
const MaxBatches = 999

func (b Batch) check() error {
	if err := checkName("crew", b.Crew); err != nil {
		return err
	}
	if day, err := time.Parse(time.DateOnly, b.Day); err != nil || checkTime("the batch", day) != nil {
		return cannot("the day of the batch, %q, is not a date; one looks like 2026-07-18", clip(b.Day))
	}
	return checkCount("batch number", b.Number, 1, MaxBatches)
}

func (b Batch) proto() *hodv1.BatchRef {
	if b == (Batch{}) {
		return nil
	}
	return &hodv1.BatchRef{Crew: string(b.Crew), Day: b.Day, Number: uint32(b.Number)}
}

func batchOf(p *hodv1.BatchRef) Batch {
	return Batch{Crew(p.GetCrew()), p.GetDay(), count(p.GetNumber())}
}

// Role is what a device's owner may do.
type Role int

// The roles, as event.proto explains them.
const (
	NoRole Role = iota
	CrewRole
	Foreman
	Inspector
	Probe
	SiteRole
)

var roles = words{"no role", "crew", "foreman", "inspector", "probe", "site"}

func (r Role) String() string { return roles.word("role", int(r)) }

// ParseRole reads "crew", "foreman", "inspector", "probe", "site".
func ParseRole(s string) (Role, error) {
	n, err := roles.parse("role", s, 1)
	return Role(n), err
}

func (r Role) check() error { return roles.check("role", int(r), 1) }

// Kind of a constituent.
type Kind int

// The kinds, as event.proto explains them.
const (
	NoKind Kind = iota
	Cement
	Pozzolan
	Sand
	Water
	Admixture
	Foam
	Fibre
	Other
)

var kinds = words{"no kind", "cement", "pozzolan", "sand", "water", "admixture", "foam", "fibre", "other"}

func (k Kind) String() string { return kinds.word("kind", int(k)) }

// ParseKind reads "cement", "pozzolan", "sand", "water", "admixture", "foam", "fibre" (also "fiber"), "other".
func ParseKind(s string) (Kind, error) {
	if strings.EqualFold(s, "fiber") {
		return Fibre, nil
	}
	n, err := kinds.parse("kind", s, 1)
	return Kind(n), err
}

func (k Kind) check() error { return kinds.check("kind", int(k), 1) }

// Tending is what was done to a surface.
type Tending int

// What can be done to a surface.
const (
	NoTending Tending = iota
	Covered
	Uncovered
	Wetted
)

var tendings = words{"nothing", "covered", "uncovered", "wetted"}

func (t Tending) String() string { return tendings.word("tending", int(t)) }

// ParseTending reads "covered", "uncovered", "wetted".
func ParseTending(s string) (Tending, error) {
	n, err := tendings.parse("tending", s, 1)
	return Tending(n), err
}

func (t Tending) check() error { return tendings.check("tending", int(t), 1) }

// Units that a site reads.
type Units int

// The systems of units.
const (
	NoUnits Units = iota
	Metric
	US
)

var systems = words{"no units", "metric", "us"}

func (u Units) String() string { return systems.word("units", int(u)) }

// ParseUnits reads "metric", "us".
func ParseUnits(s string) (Units, error) {
	n, err := systems.parse("units", s, 1)
	return Units(n), err
}

func (u Units) check() error { return systems.check("units", int(u), 0) }

// Specimen shape.
type Specimen int

// The shapes.
const (
	NoSpecimen Specimen = iota
	Cube
	Cylinder
)

var specimens = words{"no shape", "cube", "cylinder"}

func (s Specimen) String() string { return specimens.word("shape", int(s)) }

// ParseSpecimen reads "cube", "cylinder".
func ParseSpecimen(s string) (Specimen, error) {
	n, err := specimens.parse("shape", s, 1)
	return Specimen(n), err
}

func (s Specimen) check() error { return specimens.check("shape", int(s), 1) }

// words are those of an enumeration, by number.
type words []string

func (w words) word(what string, n int) string {
	if n < 0 || n >= len(w) {
		return what + " " + strconv.Itoa(n)
	}
	return w[n]
}

// parse takes any case, and only words from the least on.
func (w words) parse(what, s string, least int) (int, error) {
	for n := least; n < len(w); n++ {
		if strings.EqualFold(strings.TrimSpace(s), w[n]) {
			return n, nil
		}
	}
	return 0, cannot("%q is not a %s; it is one of %s", clip(s), what, strings.Join(w[least:], ", "))
}

// check refuses a number beyond the last: a newer version wrote it, and what it means is not to be guessed.
func (w words) check(what string, n, least int) error {
	if n < 0 || n >= len(w) {
		return cannot("%s %d is not known to this version; known are %s", what, n, strings.Join(w[least:], ", "))
	}
	if n < least {
		return cannot("the %s is not said; it is one of %s", what, strings.Join(w[least:], ", "))
	}
	return nil
}
