package drawing

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/weather"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

// Why is what a figure of the foreman's page rests on: the figures it is made of, the formula, the limit, where both
// are from, and the events.
type Why struct {
	Site    string      `json:"site"`
	AsOf    time.Time   `json:"as_of"`
	Units   string      `json:"units"`
	Title   string      `json:"title"`
	Figures []WhyFigure `json:"figures"`
	Formula string      `json:"formula,omitempty"`
	Limit   string      `json:"limit,omitempty"`
	Source  string      `json:"source,omitempty"`
	Events  []string    `json:"events,omitempty"` // the newest last
	Zone    string      `json:"zone,omitempty"`   // whose page has more
	Page    string      `json:"page,omitempty"`   // that has more: weather, forecast, stock
	Caution string      `json:"caution,omitempty"`
	Missing []string    `json:"missing,omitempty"`
}

// WhyFigure is one figure in SI, or words.
type WhyFigure struct {
	Name  string   `json:"name"`
	Value *float64 `json:"value,omitempty"`
	// kg/m²/h, lb/ft²/h, °C, m/s, 1 (a share), thickness (m), m, m², m³, kg, batches, batches/h, h
	Unit  string     `json:"unit,omitempty"`
	Words string     `json:"words,omitempty"`
	At    *time.Time `json:"at,omitempty"`
}

func (v *Why) figure(name string, x *float64, in string) {
	if x != nil {
		v.Figures = append(v.Figures, WhyFigure{Name: name, Value: x, Unit: in})
	}
}

func (v *Why) words(name, words string) {
	if words != "" {
		v.Figures = append(v.Figures, WhyFigure{Name: name, Words: words})
	}
}

func (v *Why) instant(name string, at *time.Time) {
	if at != nil {
		v.Figures = append(v.Figures, WhyFigure{Name: name, At: at})
	}
}

// mostWhyEvents of a figure are named: of more, the newest.
const mostWhyEvents = 60

// WhyOf a figure by its word: drying, left, stock/MATERIAL, coat/ZONE/FACE/NUMBER. False if there is no such figure.
func WhyOf(s *fold.Site, now time.Time, in *time.Location, word string) (Why, bool) {
	v := Why{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String()}
	kind, rest, _ := strings.Cut(word, "/")
	ok := false
	switch kind {
	case "drying":
		ok = rest == ""
		v.drying(s, now, in)
	case "left":
		ok = rest == ""
		v.left(s, now, in)
	case "stock":
		ok = v.stock(s, now, in, rest)
	case "coat":
		ok = v.coat(s, now, in, rest)
	}
	if n := len(v.Events); n > mostWhyEvents {
		v.Events = v.Events[n-mostWhyEvents:]
	}
	return v, ok
}

// drying is what the evaporation now rests on: the last full reading and the mortar's surface.
func (v *Why) drying(s *fold.Site, now time.Time, in *time.Location) {
	c, _ := view.WeatherOf(s, now, in)
	form, second := weather.FormUnoSI, weather.FormMenzelSI
	rate, limit, in1 := c.EvaporationKgM2H, c.LimitKgM2H, "kg/m²/h"
	if s.Plan().System == unit.US {
		form, second = weather.FormUnoUS, weather.FormMenzelUS
		rate, limit, in1 = c.EvaporationLbFt2H, c.LimitLbFt2H, "lb/ft²/h"
	}
	v.Title, v.Page, v.Caution, v.Missing = "How fast bare mortar dries", "weather", weather.Caution, c.Missing
	v.figure("dries at", rate, in1)
	v.instant("read at", c.ReadAt)
	v.words("read by", c.Station)
	v.figure("air", c.AirC, "°C")
	v.figure("humidity", c.Humidity, "1")
	v.figure("dew point", c.DewPointC, "°C")
	v.figure("wind as read", c.WindReadMPS, "m/s")
	v.figure("read at a height of", c.WindHeightM, "m")
	v.figure("wind at 0.5 m", c.WindMPS, "m/s")
	v.figure("surface of the mortar", c.SurfaceC, "°C")
	v.words("surface from", c.SurfaceSource)
	v.figure("by the second formula", c.MenzelKgM2H, "kg/m²/h")
	v.figure("limit", &limit, in1)
	v.Formula = form.Source().Text + "; second: " + second.Source().Text
	v.Limit = "the site's own; over it fresh mortar is covered, fogged or kept out of the wind"
	v.Source = form.Source().Published + "; " + second.Source().Published + "; limit: ACI 305R family"
	read, _ := s.Weather()
	for _, k := range read {
		if c.ReadAt != nil && !k.At.Before(c.ReadAt.Add(-fold.FullCounts)) && !k.At.After(now) {
			v.Events = append(v.Events, k.Record.Name.String())
		}
	}
	v.Events = slices.Compact(v.Events)
}

// left is what the batches left rest on.
func (v *Why) left(s *fold.Site, now time.Time, in *time.Location) {
	f := ahead.ForecastOf(s, now, in)
	v.Title, v.Page, v.Missing = "What is left", "forecast", f.Missing
	if f.Batches != nil {
		v.figure("batches, as likely as not", view.Number(float64(f.Batches.P50)), "batches")
		v.figure("batches, nine times in ten at most", view.Number(float64(f.Batches.P90)), "batches")
	}
	v.figure("volume that the plan still asks for", &f.VolumeM3, "m³")
	v.figure("coats not finished", view.Number(float64(f.CoatsLeft)), "coats")
	v.figure("mixed and not placed", &f.InTransit, "batches")
	v.figure("pace of all crews", f.Pace, "batches/h")
	v.words("pace from", f.PaceNote)
	v.words("crews", f.Lists)
	if w := f.Width; w != nil {
		v.figure("± by thickness and waste of the site", &w.SiteBatches, "batches")
		v.figure("± from coat to coat", &w.CoatsBatches, "batches")
		v.figure("± by what the mixes yield", &w.YieldBatches, "batches")
		v.figure("± from batch to batch", &w.ScatterBatches, "batches")
		v.figure("± by pace", &w.PaceHours, "h")
	}
	v.Formula = "batches until the volume left is reached, each with the yield that the record shows with the mix design as " +
		"prior; the volume by area, thickness and the loss that finished coats show (renewal count over draws)"
	v.Source = "a choice of this program; how often its figures held is in deploy/forecast.md"
}

// stock is what a material's balance rests on: its ledger.
func (v *Why) stock(s *fold.Site, now time.Time, in *time.Location, name string) bool {
	if name == "" || !slices.Contains(s.Materials(), event.Material(name)) {
		return false
	}
	v.Title, v.Page = name+" on hand", "stock"
	lines := view.LedgerLines(s, now, in, event.Material(name))
	for _, k := range lines {
		at := k.At.UTC()
		v.Figures = append(v.Figures, WhyFigure{Name: k.What, Value: &k.AmountKg, Unit: "kg", At: &at, Words: k.Lot})
		if k.Event != "" {
			v.Events = append(v.Events, k.Event)
		}
	}
	if n := len(lines); n > 0 {
		v.Figures = append([]WhyFigure{{Name: "on hand", Value: &lines[n-1].BalanceKg, Unit: "kg"}}, v.Figures...)
	}
	v.Formula = "the last count, or nothing, and what was received since, less what was spoiled and what batches took"
	return true
}

// coat is what a coat's thickness and rest rest on: ZONE/FACE/NUMBER.
func (v *Why) coat(s *fold.Site, now time.Time, in *time.Location, word string) bool {
	parts := strings.Split(word, "/")
	if len(parts) != 3 {
		return false
	}
	n, err := strconv.Atoi(parts[2])
	z, ok := view.ZoneOf(s, now, in, event.Zone(parts[0]))
	if err != nil || !ok {
		return false
	}
	i := slices.IndexFunc(z.Coats, func(c view.ZoneCoat) bool {
		return (c.Progress.Face == parts[1] || c.Progress.Face == "" && parts[1] == "any") && c.Progress.Coat == int32(n) //nolint:gosec // compared, not kept
	})
	if i < 0 {
		return false
	}
	c := z.Coats[i]
	l := c.Progress
	v.Title, v.Zone = strings.TrimSpace(strings.Join([]string{l.Zone, l.Face, parts[2]}, " ")), l.Zone
	v.figure("mean thickness", &l.MeanThicknessM, "thickness")
	v.figure("as designed", &l.DesignM, "thickness")
	v.figure("area", &l.AreaM2, "m²")
	v.figure("placed", &l.PlacedM3, "m³")
	v.figure("needed, with the planned loss", &l.NeededM3, "m³")
	v.figure("left", &l.LeftM3, "m³")
	v.figure("placed, in batches", &l.Batches, "batches")
	v.words("finished by", l.FinishedBy)
	for _, p := range c.Placements {
		v.figure("batch "+p.Batch+", "+p.Basis, &p.VolumeM3, "m³")
		for _, g := range p.GaugeM {
			v.figure("gauge in it", &g, "thickness")
		}
		v.Events = append(v.Events, p.Name)
	}
	v.Formula = "mean thickness = volume placed / (1 + planned loss) / area; the volume of a batch is its mass over its unit " +
		"weight where it was weighed, else what those that were weighed yield"
	v.Source = "unit weight and yield: ASTM C138; the rest is arithmetic"
	v.Limit = "design thickness " + s.Plan().System.Thickness(unit.Length(l.DesignM))
	return true
}
