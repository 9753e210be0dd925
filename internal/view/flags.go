package view

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/fold"
	"hod/internal/unit"
	"hod/internal/weather"
)

// Flags is what the record shows that a person should see.
type Flags struct {
	Site  string    `json:"site"`
	AsOf  time.Time `json:"as_of"`
	Units string    `json:"units"`
	Flags []Flag    `json:"flags"`
}

// Flag is one such thing with its evidence; open until answered.
type Flag struct {
	ID       string    `json:"id"`   // short, to be typed
	Code     string    `json:"code"` // cold-joint, drying, water-limit, set-aside, …
	Grave    bool      `json:"grave"`
	Subject  string    `json:"subject"` // the zone, batch, device or material that it is about
	Text     string    `json:"text"`
	Since    time.Time `json:"since"`
	Open     bool      `json:"open"`
	Answer   string    `json:"answer,omitempty"`
	Answerer string    `json:"answerer,omitempty"`
	Evidence []Fact    `json:"evidence,omitempty"`
	Formula  string    `json:"formula,omitempty"`
	Limit    string    `json:"limit,omitempty"`
	Source   string    `json:"source,omitempty"`
	Events   []string  `json:"events,omitempty"` // the events that it rests on
	Caution  string    `json:"caution,omitempty"`
	Because  string    `json:"because,omitempty"` // why a person passed the rule over, and in which event
}

// Fact is one figure of a flag's evidence, in words; an instant is in them by the site's clock.
type Fact struct {
	Name  string     `json:"name"`
	Value string     `json:"value"`
	At    *time.Time `json:"at,omitempty"` // the instant, where the fact is of one
}

func factOf(f fold.Fact, in *time.Location) Fact {
	v := Fact{Name: f.Name, Value: f.Value}
	if !f.At.IsZero() {
		v.At, v.Value = at(f.At), strings.TrimSpace(f.At.In(in).Format("2 Jan 2006 15:04")+" "+f.Value)
	}
	return v
}

// FlagsOf the site at an instant: the open ones, or all; grave ones first, then the newest.
func FlagsOf(s *fold.Site, now time.Time, in *time.Location, all bool) Flags {
	v := Flags{Site: siteName(s), AsOf: now, Units: s.Plan().System.String()}
	for _, f := range flags(s, now, in) {
		if all || f.Open {
			v.Flags = append(v.Flags, f)
		}
	}
	return v
}

func flags(s *fold.Site, now time.Time, in *time.Location) []Flag {
	findings := s.Findings()
	findings = append(findings, unplaced(s, now)...)
	findings = append(findings, shortOfStock(s, now, in)...)
	findings = append(findings, coldAir(s, now, in)...)
	all := make([]Flag, 0, len(findings))
	for _, f := range findings {
		all = append(all, flag(s, f, in))
	}
	slices.SortStableFunc(all, func(a, b Flag) int {
		switch {
		case a.Grave != b.Grave && a.Grave:
			return -1
		case a.Grave != b.Grave:
			return 1
		}
		return b.Since.Compare(a.Since)
	})
	return all
}

func flag(s *fold.Site, f fold.Finding, in *time.Location) Flag {
	v := Flag{
		ID: shortID(f.Code, f.Key), Code: f.Code, Grave: f.Grave, Subject: f.Subject, Text: f.Text, Since: f.Since.UTC(), Open: true,
		Formula: f.Formula, Limit: f.Limit, Source: f.Source, Caution: f.Caution, Because: f.Because,
	}
	for _, e := range f.Evidence {
		v.Evidence = append(v.Evidence, factOf(e, in))
	}
	for _, n := range f.Events {
		v.Events = append(v.Events, n.String())
	}
	if f.Settled != "" {
		v.Open, v.Answer = false, f.Settled
	}
	if a, ok := s.Answer(v.ID); ok {
		v.Open, v.Answer, v.Answerer = false, a.Text, a.By
		v.Events = append(v.Events, a.Record.Name.String())
	}
	return v
}

// unplaced finds batches that were mixed longer ago than a batch may be worked, and of which the record does not say
// where all went.
func unplaced(s *fold.Site, now time.Time) []fold.Finding {
	var all []fold.Finding
	sys := s.Plan().System
	for _, b := range s.Batches() {
		working := b.Mix.Working
		if working == 0 {
			working = fold.DefaultWorking
		}
		if b.Left < 0.02 || now.Sub(b.Water) < working {
			continue
		}
		left := b.Volume(b.Left, s.YieldOf(b).Ratio)
		all = append(all, fold.Finding{
			Code: fold.Unplaced, Key: b.Mixed.Name.String(), Subject: "batch " + b.ID.String(), Since: b.Water.Add(working),
			Text:     fmt.Sprintf("%s of batch %s went nowhere in the record: write where it was placed, or discard it", sys.Volume(left), b.ID),
			Evidence: []fold.Fact{{Name: "left", Value: sys.Volume(left)}, {Name: "of the batch", Value: sys.Share(b.Left)}}, Limit: unit.Duration(working) + " after water contact",
			Events: events(b.Mixed),
		})
	}
	return all
}

// coldAir finds days on which the air fell below the cold-weather limit while something was still young.
func coldAir(s *fold.Site, now time.Time, in *time.Location) []fold.Finding {
	read, _ := s.Weather()
	sys := s.Plan().System
	from, to, ok := placingSpan(s)
	if !ok {
		return nil
	}
	protect, err := weather.Protection(weather.NoLoadExposed, false)
	if err != nil {
		return nil
	}
	var all []fold.Finding
	seen := map[string]int{}
	for _, k := range read {
		if k.Air == nil || k.At.Before(from) || k.At.After(to.Add(protect)) || k.At.After(now) {
			continue
		}
		j, err := weather.ColdWeather(*k.Air)
		if err != nil || !verdict(j, sys).Broken {
			continue
		}
		day := k.At.In(in).Format(time.DateOnly)
		if i, ok := seen[day]; ok {
			all[i].Evidence = append(all[i].Evidence[:1:1], fold.Fact{Name: "last such reading", Value: sys.Temperature(*k.Air), At: k.At})
			continue
		}
		seen[day] = len(all)
		all = append(all, fold.Finding{
			Code: fold.ColdAir, Key: day, Subject: "weather", Since: k.At, Grave: *k.Air <= 0,
			Text:     fmt.Sprintf("the air was %s while something was fresh or young: protect it", sys.Temperature(*k.Air)),
			Evidence: []fold.Fact{{Name: "first such reading", Value: sys.Temperature(*k.Air), At: k.At}},
			Limit:    j.Says, Source: j.Source.Published, Events: events(k.Record),
		})
	}
	return all
}

func verdict(j weather.Judgement, sys unit.System) weather.Verdict {
	if sys == unit.US {
		return j.US
	}
	return j.SI
}

// placingSpan is from the first placement to the last.
func placingSpan(s *fold.Site) (from, to time.Time, ok bool) {
	for _, b := range s.Batches() {
		for _, p := range b.Parts {
			if !ok || p.From.Before(from) {
				from = p.From
			}
			if !ok || p.To.After(to) {
				to = p.To
			}
			ok = true
		}
	}
	return from, to, ok
}
