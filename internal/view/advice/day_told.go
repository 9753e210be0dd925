package advice

import (
	"encoding/json"
	"hash/fnv"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/next"
	"hod/internal/view"
)

// DayCover is what is to be covered or wetted of what a plan places, and kept moist.
type DayCover struct {
	Zone  string    `json:"zone"`
	Face  string    `json:"face,omitempty"`
	Coat  int32     `json:"coat"`
	By    time.Time `json:"cover_by"`    // its first batch has set, as expected: not later
	All   time.Time `json:"all_by"`      // its last one has
	Until time.Time `json:"moist_until"` // of the last
}

// DayBegun is a coat that is begun and not finished.
type DayBegun struct {
	Zone     string `json:"zone"`
	Face     string `json:"face,omitempty"`
	Coat     int32  `json:"coat"`
	Batches  int32  `json:"batches"`  // that it still takes
	Finished bool   `json:"finished"` // by the plan
}

// cover notes when a batch of a coat has set.
func (p *DayPlan) cover(c event.Coat, set time.Time) {
	one := DayCover{
		Zone: string(c.Zone), Face: view.FaceName(c.Face), Coat: int32(c.Number), By: set, All: set,
		Until: set.Add(moistCure),
	}
	i := slices.IndexFunc(p.Covers, func(o DayCover) bool {
		return o.Zone == one.Zone && o.Face == one.Face &&
			o.Coat == one.Coat
	})
	if i < 0 {
		p.Covers = append(p.Covers, one)
		return
	}
	o := &p.Covers[i]
	if set.Before(o.By) {
		o.By = set
	}
	if set.After(o.All) {
		o.All, o.Until = set, one.Until
	}
}

// begunBy says of each coat that is begun and not finished whether a plan finishes it.
func (a *dayAsk) begunBy(p next.DayPlan) []DayBegun {
	left, taken := map[event.Coat]int32{}, map[event.Coat]int32{}
	for i, c := range a.cells.All {
		if !a.Cells[i].Placed {
			left[c.Coat]++
		}
	}
	for _, t := range p.Takes {
		taken[a.cells.All[t.Cell].Coat]++
	}
	var all []DayBegun
	for _, id := range a.begun {
		if n := left[id]; n > 0 {
			all = append(all, DayBegun{string(id.Zone), view.FaceName(id.Face), int32(id.Number), n, taken[id] == n})
		}
	}
	return all
}

// gatherBegun are the coats in which something is placed.
func (a *dayAsk) gatherBegun() {
	for _, c := range a.site.CoatsInOrder() {
		if len(c.Placed) > 0 {
			a.begun = append(a.begun, c.CoatPlanned.Coat)
		}
	}
}

// letters of a key: none that make a word or look like a figure.
const letters = "bcdfghjkmnpqrstvwxz"

// keyOf a plan of a day with all that its order says, in whole numbers: two devices that know the same give it the same
// key, and a plan of which anything has changed has another.
func keyOf(day time.Time, p DayPlan) string {
	text, err := json.Marshal(struct {
		Day, Start                         time.Time
		Crews, Mixes                       []string
		Bays                               []DayBay
		Takes                              []NextTake
		Batches, Trials, Cold, Done, Metre int32
	}{
		day.UTC(), p.Start, p.Crews, p.Mixes, p.Bays, p.Takes, p.Batches, p.Trials, p.Cold, p.Done,
		int32(math.Round(p.OnPurposeM * 100)),
	})
	if err != nil {
		return "" // no time and no number of a plan is beyond JSON
	}
	h := fnv.New64a()
	_, _ = h.Write(text) // it never fails
	n := h.Sum64()
	key := make([]byte, 4)
	for i := range key {
		key[i], n = letters[n%uint64(len(letters))], n/uint64(len(letters))
	}
	return string(key)
}
