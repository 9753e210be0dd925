// Package handover is the record of a shell as it is handed over on paper: all that was placed, of what, what was
// measured, what became of each joint and flag, and what was put right.
//
// It gathers what the rooms below show each by itself, and adds the batches with the lots that can be in them. It
// leaves out the log, which an export holds in full and signed. No I/O. Start at Of.
package handover

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/curing"
	"hod/internal/trade/mix"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
)

// Record of a shell.
type Record struct {
	Site        string             `json:"site"`
	Place       string             `json:"place,omitempty"`
	AsOf        time.Time          `json:"as_of"`
	LastAt      time.Time          `json:"last_at"` // when its newest event was written
	Events      int                `json:"events"`
	Units       string             `json:"units"`
	Maps        []drawing.Map      `json:"maps"` // one a coat
	Lines       []view.CoatLine    `json:"coats"`
	Zones       []drawing.ZoneLeaf `json:"zones"`
	Batches     []Batch            `json:"batches"`
	Lots        []Lot              `json:"lots"`
	Tests       []daily.Test       `json:"tests"`
	Breaks      []daily.BreakLine  `json:"breaks"`
	Weather     []daily.WeatherOn  `json:"weather"`
	Flags       daily.Flags        `json:"flags"`
	Corrections []view.Entry       `json:"corrections"`
	SetAside    []view.Entry       `json:"set_aside"`
	Excluded    []view.Exclusion   `json:"excluded,omitempty"` // of whom what does not count in anything here
	Cautions    []string           `json:"cautions"`
}

// Lot is a delivery that named its lot.
type Lot struct {
	Material string    `json:"material"`
	Lot      string    `json:"lot"`
	At       time.Time `json:"at"`
	MassKg   float64   `json:"mass_kg"`
	Event    string    `json:"event"`
	// FirstBatch of the material after it had come: it can be in that one and in each later one. Which of several lots
	// on hand went into a batch is not written.
	FirstBatch string `json:"first_batch,omitempty"`
}

// Batch is one mixer load, with what went into it.
type Batch struct {
	Batch    string     `json:"batch"`
	Event    string     `json:"event"`
	Mix      string     `json:"mix"`
	Revision int32      `json:"revision"`
	From     *time.Time `json:"mixed_from,omitempty"`
	Ready    *time.Time `json:"ready_at,omitempty"`
	Charges  []Charge   `json:"charges"`
	WCM      *float64   `json:"wcm,omitempty"`
	YieldM3  *float64   `json:"yield_m3,omitempty"` // measured
	DesignM3 *float64   `json:"design_m3,omitempty"`
	Wrong    string     `json:"wrong,omitempty"` // why it has no figures
	// Shares of it that were thrown away, and of which nothing is said.
	Discarded float64 `json:"discarded"`
	Left      float64 `json:"left"`
	Into      []Part  `json:"into"`
}

// Charge is one constituent as weighed.
type Charge struct {
	Constituent string  `json:"constituent"`
	MassKg      float64 `json:"mass_kg"`
}

// Part of a batch in one coat.
type Part struct {
	Zone  string  `json:"zone"`
	Face  string  `json:"face"`
	Coat  int32   `json:"coat"`
	Share float64 `json:"share"`
	Event string  `json:"event"`
}

// Of the site at an instant, in the site's place.
func Of(s *fold.Site, now time.Time, in *time.Location) Record {
	p := s.Plan()
	whole := drawing.CoatMaps(s, now, in)
	v := Record{
		Site: view.SiteName(s), Place: p.Place, AsOf: now, Events: s.Len(), Units: p.System.String(), Maps: whole,
		Lines: view.CoatLines(s),
		Lots:  lots(s, now), Tests: daily.TestsOf(s), Breaks: daily.BreaksOf(s), Weather: daily.WeatherOf(s, now, in),
		Flags: daily.FlagsOf(s, now, in, true), Corrections: daily.CorrectionsOf(s, in),
		SetAside: view.Entries(s, in, func(r *fold.Record) bool { return r.State == fold.SetAside }),
		Excluded: view.ExclusionsOf(s),
		Cautions: []string{mix.Caution, curing.Caution},
	}
	for _, name := range p.ZoneNames() {
		if z, ok := drawing.ZoneLeafOf(s, now, in, name); ok {
			v.Zones = append(v.Zones, z)
		}
	}
	for _, b := range s.Batches() {
		v.Batches = append(v.Batches, batch(b))
	}
	v.firstBatches(s)
	for _, r := range s.Records() {
		if r.LoggedAt.After(v.LastAt) {
			v.LastAt = r.LoggedAt.UTC()
		}
	}
	return v
}

// lots until an instant, by when they came.
func lots(s *fold.Site, now time.Time) []Lot {
	var all []Lot
	for _, r := range s.Records() {
		b, received := r.Now.(event.StockReceived)
		if !received || b.Lot == "" || r.State == fold.SetAside || r.When.After(now) {
			continue
		}
		l := Lot{Material: string(b.Material), Lot: b.Lot, At: r.When.UTC(), Event: r.Name.String()}
		if ledger, err := s.Ledger(b.Material); err == nil {
			for _, k := range ledger.Lines {
				if k.Tie == l.Event {
					l.MassKg = float64(k.Amount)
				}
			}
		}
		all = append(all, l)
	}
	slices.SortStableFunc(all, func(a, b Lot) int { return a.At.Compare(b.At) })
	return all
}

// firstBatches of the lots, by the time at which they were begun.
func (v *Record) firstBatches(s *fold.Site) {
	for i := range v.Lots {
		l := &v.Lots[i]
		var from time.Time
		for _, b := range s.Batches() {
			has := slices.ContainsFunc(b.Batch.Charges, func(c mix.Charge) bool { return c.Name == l.Material })
			if has && !b.From.Before(l.At) && (from.IsZero() || b.From.Before(from)) {
				from, l.FirstBatch = b.From, b.ID.String()
			}
		}
	}
}

func batch(b *fold.Batch) Batch {
	v := Batch{
		Batch: b.ID.String(), Mix: string(b.Body.Mix), Revision: int32(b.Body.Revision), Wrong: b.Wrong,
		DesignM3: view.Positive(b.Design), YieldM3: view.Positive(b.Yield), Discarded: float64(b.Discarded),
		Left: float64(b.Left),
	}
	if b.Mixed != nil {
		v.Event = b.Mixed.Name.String()
	}
	if !b.From.IsZero() {
		v.From = view.Instant(b.From)
	}
	if !b.Ready.IsZero() {
		v.Ready = view.Instant(b.Ready)
	}
	if b.Wrong == "" && b.Mixed != nil {
		v.WCM = view.Number(b.Figures.WaterCementitious)
	}
	for _, c := range b.Batch.Charges {
		v.Charges = append(v.Charges, Charge{Constituent: c.Name, MassKg: float64(c.Mass)})
	}
	for _, p := range b.Parts {
		v.Into = append(v.Into, Part{
			Zone: string(p.Coat.Zone), Face: view.FaceName(p.Coat.Face), Coat: int32(p.Coat.Number),
			Share: float64(p.Share),
			Event: p.Record.Name.String(),
		})
	}
	return v
}
