package drawing

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/control"
	"hod/internal/view"
)

// Charts are the site's figures over its days: progress, control charts, thickness, stock.
type Charts struct {
	Site      string         `json:"site"`
	AsOf      time.Time      `json:"as_of"`
	Units     string         `json:"units"`
	Progress  []ProgressDay  `json:"progress"`
	PlannedM3 float64        `json:"planned_m3"` // that all coats need
	Control   []ControlChart `json:"control"`
	Thickness []ThicknessBar `json:"thickness"`
	Stock     []StockLine    `json:"stock"`
}

// ProgressDay is what was placed by the end of a day, over all coats.
type ProgressDay struct {
	Date     string    `json:"date"`
	At       time.Time `json:"at"` // its end
	PlacedM3 float64   `json:"placed_m3"`
	Batches  float64   `json:"batches"`
}

// ControlChart is one figure of a mix's batches in their order, with its limits.
type ControlChart struct {
	Mix    string         `json:"mix"`
	Figure string         `json:"figure"` // relative yield, w/cm
	Points []ControlPoint `json:"points"`
	Mean   *float64       `json:"mean,omitempty"` // nil: too few for limits
	Low    *float64       `json:"low,omitempty"`
	High   *float64       `json:"high,omitempty"`
	Limit  *float64       `json:"limit,omitempty"` // the mix's own, where it has one
	Note   string         `json:"note,omitempty"`  // why there are no limits
	Source string         `json:"source"`
	Rules  string         `json:"rules"`
}

// ControlPoint is one batch.
type ControlPoint struct {
	Batch string    `json:"batch"`
	Event string    `json:"event,omitempty"`
	At    time.Time `json:"at"`
	Value float64   `json:"value"`
	Rule  string    `json:"rule,omitempty"` // by which it is not chance alone
}

// ThicknessBar is a coat's mean thickness with what gauges read in it.
type ThicknessBar struct {
	Zone    string    `json:"zone"`
	Face    string    `json:"face,omitempty"`
	Coat    int32     `json:"coat"`
	State   string    `json:"state"`
	MeanM   float64   `json:"mean_m"`
	DesignM float64   `json:"design_m"`
	GaugeM  []float64 `json:"gauge_m,omitempty"`
}

// StockLine is a material's balance over time.
type StockLine struct {
	Material string       `json:"material"`
	Points   []StockPoint `json:"points"`
}

// StockPoint is a balance after something happened.
type StockPoint struct {
	At        time.Time `json:"at"`
	What      string    `json:"what"` // received, counted, spoiled, drawn
	AmountKg  float64   `json:"amount_kg"`
	BalanceKg float64   `json:"balance_kg"`
}

// ChartsOf the site at an instant, in the site's place.
func ChartsOf(s *fold.Site, now time.Time, in *time.Location) Charts {
	v := Charts{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String(), Stock: stockLines(s, now, in)}
	placed := map[string]*ProgressDay{}
	for _, name := range s.Plan().ZoneNames() {
		z, ok := s.Zone(name)
		if !ok {
			continue
		}
		for _, c := range z.Coats {
			v.PlannedM3 += float64(c.Needed)
			l := view.CoatLineOf(s, z.Zone, c)
			bar := ThicknessBar{
				Zone: l.Zone, Face: l.Face, Coat: l.Coat, State: l.State, MeanM: l.MeanThicknessM,
				DesignM: l.DesignM,
			}
			for _, p := range c.Placed {
				if p.To.After(now) {
					continue
				}
				day := view.StartOfDay(p.To.In(in))
				date := day.Format(time.DateOnly)
				if placed[date] == nil {
					placed[date] = &ProgressDay{Date: date, At: day.AddDate(0, 0, 1).UTC()}
				}
				placed[date].PlacedM3 += float64(p.Volume)
				placed[date].Batches += float64(p.Share)
				for _, g := range p.Gauges {
					bar.GaugeM = append(bar.GaugeM, float64(g.SI))
				}
			}
			if l.State != "waiting" {
				v.Thickness = append(v.Thickness, bar)
			}
		}
	}
	v.Progress = summed(placed)
	for _, m := range s.Plan().MixNames() {
		v.Control = append(v.Control, controlOf(s, m, now)...)
	}
	return v
}

// summed are the days in order, each with all before it.
func summed(days map[string]*ProgressDay) []ProgressDay {
	var all []ProgressDay
	for _, d := range days {
		all = append(all, *d)
	}
	slices.SortFunc(all, func(a, b ProgressDay) int { return cmp.Compare(a.Date, b.Date) })
	for i := range all {
		if i > 0 {
			all[i].PlacedM3 += all[i-1].PlacedM3
			all[i].Batches += all[i-1].Batches
		}
	}
	return all
}

// controlOf a mix: the relative yield of its batches that were weighed, and the w/cm of all, by the revision that is
// planned now.
func controlOf(s *fold.Site, name event.Mix, now time.Time) []ControlChart {
	yield := ControlChart{Mix: string(name), Figure: "relative yield"}
	ratio := ControlChart{Mix: string(name), Figure: "w/cm"}
	m := s.Plan().Mixes[name]
	if m != nil && m.WaterLimit > 0 {
		ratio.Limit = new(m.WaterLimit)
	}
	for _, b := range s.Batches() {
		if b.Body.Mix != name || b.Wrong != "" || b.Mixed == nil || b.Ready.After(now) || m == nil ||
			b.Body.Revision != m.Revision {
			continue
		}
		p := ControlPoint{Batch: b.ID.String(), Event: b.Mixed.Name.String(), At: b.Ready.UTC()}
		if b.Yield > 0 && b.Design > 0 {
			p.Value = float64(b.Yield / b.Design)
			yield.Points = append(yield.Points, p)
		}
		p.Value = b.Figures.WaterCementitious
		ratio.Points = append(ratio.Points, p)
	}
	var all []ControlChart
	for _, c := range []ControlChart{yield, ratio} {
		if len(c.Points) == 0 {
			continue
		}
		slices.SortStableFunc(c.Points, func(a, b ControlPoint) int { return a.At.Compare(b.At) })
		all = append(all, c.judged())
	}
	return all
}

// judged is a chart with its limits, and the rules that its points break.
func (c ControlChart) judged() ControlChart {
	c.Source, c.Rules = control.LimitsSource, control.RulesSource
	values := make([]float64, len(c.Points))
	for i, p := range c.Points {
		values[i] = p.Value
	}
	l, signals, err := control.Individuals(values)
	if err != nil {
		c.Note = err.Error()
		return c
	}
	c.Mean, c.Low, c.High = &l.Mean, &l.Low, &l.High
	for _, s := range signals {
		c.Points[s.At].Rule = s.Rule
	}
	return c
}

// mostStockPoints of a material are drawn.
const mostStockPoints = 200

func stockLines(s *fold.Site, now time.Time, in *time.Location) []StockLine {
	var all []StockLine
	for _, m := range s.Materials() {
		if !s.Stocked(m) { // a sum of what was drawn alone is no balance: nobody has written what there is of it
			continue
		}
		l := StockLine{Material: string(m)}
		for _, k := range view.LedgerLines(s, now, in, m) {
			l.Points = append(l.Points, StockPoint{
				At: k.At, What: k.What, AmountKg: k.AmountKg,
				BalanceKg: k.BalanceKg,
			})
		}
		if n := len(l.Points); n > mostStockPoints {
			l.Points = l.Points[n-mostStockPoints:]
		}
		if len(l.Points) > 0 {
			all = append(all, l)
		}
	}
	return all
}
