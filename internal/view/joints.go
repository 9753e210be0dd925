package view

import (
	"cmp"
	"crypto/sha256"
	"encoding/base32"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/placed"
	"hod/internal/trade/setting"
)

// Joints is every place where later material meets, or is to meet, earlier.
type Joints struct {
	Site     string    `json:"site"`
	AsOf     time.Time `json:"as_of"`
	Units    string    `json:"units"`
	Joints   []Joint   `json:"joints"` // open ones, the most urgent first, then those that are made, worst first
	SetTests *SetTests `json:"set_tests_today,omitempty"`
}

// Joint is a contact inside a coat, along an edge, or of coat on coat.
type Joint struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"` // inside, edge, below
	Zone  string `json:"zone"` // of the earlier side
	Face  string `json:"face,omitempty"`
	Coat  int32  `json:"coat"`
	Other string `json:"other,omitempty"` // the zone across the edge
	State string `json:"state"`           // live, closing, cold
	Made  bool   `json:"made"`            // later material has met it; State is then what it was at that moment
	// Consumed is the share of initial set used up, from the best to the worst that the record allows; they differ
	// where it does not say which placement lies along the edge.
	ConsumedLow    float64    `json:"consumed_low"`
	ConsumedHigh   float64    `json:"consumed_high"`
	MadeAt         *time.Time `json:"made_at,omitempty"`
	ClosesAt       *time.Time `json:"closes_at,omitempty"`    // the soonest that it may close
	TurnsAt        *time.Time `json:"turns_at,omitempty"`     // the soonest that it may turn cold
	TurnsLatest    *time.Time `json:"turns_latest,omitempty"` // the latest, where the record allows a range
	SetMinutes     float64    `json:"set_minutes"`            // initial set as the mix states it
	SetReferenceC  float64    `json:"set_reference_c"`        // at this temperature
	MaterialC      float64    `json:"material_c"`             // the earlier material now, or when met
	MaterialSource string     `json:"material_source"`        // where that temperature is from
	Length         float64    `json:"length_m,omitempty"`     // of the edge
	Earlier        []string   `json:"earlier,omitempty"`      // events of the earlier side
	Later          []string   `json:"later,omitempty"`        // events of the later side
	Treated        []string   `json:"treated,omitempty"`      // what was done about it, oldest first
	// and nothing made it ready since: it waits for nobody
	Ended bool   `json:"ended_on_purpose,omitempty"`
	Note  string `json:"note,omitempty"` // what the answer rests on
	// Metres of an edge by what met what along it; nil where the record does not tell where each batch lies.
	Metres *JointMetres `json:"metres,omitempty"`
	// Old is open, cold since before today, and nothing was done about it: to be treated before anybody places there.
	Old bool `json:"old,omitempty"`
	// Flagged is made, and a flag speaks of it, open or answered.
	Flagged bool `json:"flagged,omitempty"`
	// Treatments are those of Treated.
	Treatments []Treatment `json:"treatments,omitempty"`
}

// Treatment is what was done once about a joint.
type Treatment struct {
	At     time.Time `json:"at"`
	Method string    `json:"method"`
	Event  string    `json:"event"`
}

func treatments(of []fold.Treated) []Treatment {
	var all []Treatment
	for _, t := range of {
		all = append(all, Treatment{t.At.UTC(), t.Method, t.Record.Name.String()})
	}
	return all
}

// JointMetres are the metres of an edge, told station by station from where each batch lies.
type JointMetres struct {
	ColdSurely   float64 `json:"cold_surely_m"`   // whatever thickness and fronts the record allows
	Cold         float64 `json:"cold_m"`          // by where the batches lie
	ColdPossibly float64 `json:"cold_possibly_m"` // at worst
	Closing      float64 `json:"closing_m"`       // met, by where the batches lie
	Live         float64 `json:"live_m"`          // met, by where the batches lie
	Open         float64 `json:"open_m"`          // one side waits for the other
	Bare         float64 `json:"bare_m"`          // neither side is placed
	Contradicts  string  `json:"contradicts,omitempty"`
}

func metresOf(m *fold.Metres) *JointMetres {
	if m == nil {
		return nil
	}
	return &JointMetres{m.Surely, m.Cold, m.Possibly, m.Closing, m.Live, m.Open, m.Bare, m.Contradicts}
}

// JointsOf the site at an instant, in the site's place.
func JointsOf(s *fold.Site, now time.Time, in *time.Location) Joints {
	p := s.Plan()
	v := Joints{Site: SiteName(s), AsOf: now, Units: p.System.String(), SetTests: SetTestsOf(s, now, in)}
	v.Joints = OpenJoints(s, now, in)
	v.Joints = append(v.Joints, MadeJoints(s)...)
	return v
}

// ladder of the site: its own closing limit.
func ladder(p *fold.Rules) setting.Ladder {
	l := setting.Suggested
	l.Closing = float64(p.Closing)
	l.Amber = min(l.Amber, l.Closing)
	return l
}

// word for a share of initial set, from the best and the worst that the record allows: cold only when it surely is, and
// closing as soon as it may be.
func word(l setting.Ladder, low, high float64) string {
	if l.State(low) == setting.Cold {
		return "cold"
	}
	if s := l.State(high); s == setting.Cold || s == setting.Closing {
		return "closing"
	}
	return "live"
}

// OpenJoints are the fronts that fresh material may still meet, the most urgent first.
func OpenJoints(s *fold.Site, now time.Time, in *time.Location) []Joint {
	return openJoints(s, s.Fronts(), now, in)
}

func openJoints(s *fold.Site, fronts []fold.Front, now time.Time, in *time.Location) []Joint {
	l := ladder(&s.Plan().Rules)
	var all []Joint
	for _, f := range fronts {
		st := s.At(f, now)
		j := Joint{
			ID: shortID("open", f.Kind.String(), f.Coat.String(), string(f.Other)), Kind: f.Kind.String(),
			Zone: string(f.Coat.Zone), Face: FaceName(f.Coat.Face), Coat: int32(f.Coat.Number), Other: string(f.Other),
			Length: float64(f.Length),
			State:  word(l, st.Low, st.High), ConsumedLow: st.Low, ConsumedHigh: st.High,
			ClosesAt: Instant(st.Closes), TurnsAt: Instant(st.Turns), TurnsLatest: Instant(st.TurnsLatest),
			Earlier: names(f.First, f.Last), Treated: treated(f.Treated), Ended: ended(f.Treated),
			Treatments: treatments(f.Treated), Metres: metresOf(f.Metres),
		}
		j.set(st)
		j.Old = j.isOld(now, in)
		if !f.Known {
			j.Note = untold("the record does not say which placement runs along the edge", f.Untold)
		}
		all = append(all, j)
	}
	byUrgency(all)
	return all
}

// madeID is the id of a joint that was made.
func madeID(kind string, coat event.Coat, other event.Zone, later event.Name) string {
	return shortID("made", kind, coat.String(), string(other), later.String())
}

// MadeJoints are the contacts that were made.
func MadeJoints(s *fold.Site) []Joint {
	p := s.Plan()
	flagged := map[string]bool{}
	for _, f := range s.Findings() {
		if j := f.Joint; j != nil {
			flagged[madeID(j.Kind, j.Coat, j.Other, j.Later)] = true
		}
	}
	var all []Joint
	for _, k := range s.Contacts() {
		st, id := s.Met(k), madeID(k.Kind.String(), k.Coat, k.Other, k.Later[0].Record.Name)
		j := Joint{
			ID: id, Kind: k.Kind.String(), Made: true, Flagged: flagged[id],
			Zone: string(k.Coat.Zone), Face: FaceName(k.Coat.Face), Coat: int32(k.Coat.Number), Other: string(k.Other),
			Length: float64(k.Length),
			State:  word(ladder(p.LimitsAt(k.At)), k.Low, k.High), ConsumedLow: k.Low, ConsumedHigh: k.High,
			MadeAt:  Instant(k.At),
			Earlier: names(k.From), Later: names(k.To), Treated: treated(k.Treated), Ended: ended(k.Treated),
			Treatments: treatments(k.Treated), Metres: metresOf(k.Metres),
		}
		if k.Metres != nil {
			j.State = wordOfMetres(k)
		}
		j.set(st)
		if !k.Known {
			j.Note = untold("the record does not say "+whichMet(k.Kind), k.Untold)
		}
		all = append(all, j)
	}
	slices.SortStableFunc(all, func(a, b Joint) int {
		return cmp.Or(cmp.Compare(b.ConsumedLow, a.ConsumedLow), a.MadeAt.Compare(*b.MadeAt), cmp.Compare(a.ID, b.ID))
	})
	return all
}

// whichMet is what a record leaves open of a joint that was made.
func whichMet(k fold.JointKind) string {
	if k == fold.Below {
		return "which placement lies on which"
	}
	return "which placements met along the edge"
}

// untold is what the record does not say, with why the strips do not tell it either where the plan would let them.
func untold(what, why string) string {
	if why == "" {
		return what
	}
	return what + ": " + why
}

// wordOfMetres is word for a joint that is told by the metre: cold where some of it surely is.
func wordOfMetres(k fold.Contact) string {
	switch {
	case k.IsCold():
		return "cold"
	case k.Metres.Possibly > 0 || k.Metres.Closing > 0:
		return "closing"
	}
	return "live"
}

func (j *Joint) set(st fold.Standing) {
	j.SetMinutes, j.SetReferenceC = st.Set.Initial.Minutes(), float64(st.Set.Reference)
	j.MaterialC, j.MaterialSource = float64(st.Material), st.MaterialSource
	if !st.SetSaid {
		j.MaterialSource += "; initial set assumed, the mix states none"
	}
}

func names(placed ...*fold.Placed) []string {
	var all []string
	for _, p := range placed {
		if n := p.Record.Name.String(); !slices.Contains(all, n) {
			all = append(all, n)
		}
	}
	return all
}

func treated(of []fold.Treated) []string {
	var all []string
	for _, t := range of {
		said := t.Method
		if t.Ended {
			said = "ended on purpose: " + said
		}
		all = append(all, said+" ("+t.Record.Name.String()+")")
	}
	return all
}

func ended(of []fold.Treated) bool { return len(of) > 0 && !placed.Ready(of) }

// shortID is a name of five letters and digits that is the same on every device.
func shortID(parts ...string) string {
	h := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return strings.ToLower(base32.StdEncoding.EncodeToString(h[:])[:5])
}

// The states of edges beyond the words of joints.
const (
	MayBeCold = "may be cold"
	MadeLive  = "made in time"
	MadeLate  = "made late"
	MadeCold  = "made cold"
	NotMet    = "not met"
	EndedEdge = "ended" // on purpose, and met by nothing since
)

// StateNow is the state of a joint as a word at an instant: an open one that was ended on purpose
// waits for nobody, and one whose soonest instant has passed may be cold.
func (j Joint) StateNow(now time.Time) string {
	switch {
	case j.Made && j.State == "live":
		return MadeLive
	case j.Made && j.State == "cold":
		return MadeCold
	case j.Made:
		return MadeLate
	case j.Ended:
		return EndedEdge
	case j.State != "cold" && j.TurnsAt != nil && !j.TurnsAt.After(now):
		return MayBeCold
	}
	return j.State
}
