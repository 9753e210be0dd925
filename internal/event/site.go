package event

import (
	"strings"
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// SitePlanned is one job with one plan and one log.
type SitePlanned struct {
	Name, Place       string
	Units             Units
	TimeZone          string        // IANA, "Europe/Lisbon"
	WorkFrom, WorkTo  time.Duration // after local midnight, whole minutes; both 0: not said
	Loss, Closing     *unit.As[unit.Share]
	Weighing          *unit.As[unit.Share] // how far a constituent weighed by hand may be off
	EvaporationMetric unit.Evaporation     // kg/(m²·h), the limit for a site that reads metric units; 0: not said
	EvaporationUS     float64              // lb/(ft²·h), the limit for a site that reads US units; 0: not said
	WarnBefore        time.Duration        // whole minutes; 0: not said
	Week              []WorkDays           // a weekday in none of them is free; none at all: not said which days
	Except            []WorkException
	Replaces          []Hash
}

func (b SitePlanned) check() error {
	if b.WorkTo < b.WorkFrom {
		return cannot("work cannot end at %s before it begins at %s, both after midnight", b.WorkTo, b.WorkFrom)
	}
	return first(
		checkLabel("name of the site", b.Name),
		checkLine("place of the site", b.Place),
		b.Units.check(),
		checkZone(b.TimeZone),
		checkWhole("beginning of work", b.WorkFrom, time.Minute, 24*time.Hour),
		checkWhole("end of work", b.WorkTo, time.Minute, 24*time.Hour),
		maybe("loss", b.Loss, wholeShare),
		maybe("closing share of initial set", b.Closing, partShare),
		maybe("tolerance of weighing", b.Weighing, tolerance),
		orNone("evaporation limit", float64(b.EvaporationMetric), evaporation),
		orNone("evaporation limit", b.EvaporationUS, evaporationUS),
		checkWhole("warning before a joint turns", b.WarnBefore, time.Minute, 24*time.Hour),
		b.checkWeek(),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

// checkZone judges the form only: which zones there are is a matter of files, and may differ between devices.
func checkZone(s string) error {
	bad := func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' ||
			strings.ContainsRune("/_-+", r))
	}
	if len(s) > 64 || strings.ContainsFunc(s, bad) || strings.HasPrefix(s, "/") {
		return cannot("the time zone %q cannot be; one looks like Europe/Lisbon", clip(s))
	}
	return nil
}

func (b SitePlanned) about() about { return about{kind: "site", sort: Planning, by: Foremen} }

// Thing names what is planned.
func (b SitePlanned) Thing() string { return "site" }

func (b SitePlanned) replaces() []Hash { return b.Replaces }

func (b SitePlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b SitePlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_SitePlanned{SitePlanned: &hodv1.SitePlanned{
		Name: b.Name, Place: b.Place, Units: hodv1.UnitSystem(b.Units), TimeZone: b.TimeZone,
		WorkFromMin: wholes(b.WorkFrom, time.Minute), WorkToMin: wholes(b.WorkTo, time.Minute),
		Loss: shareProto(b.Loss), Closing: shareProto(b.Closing), Weighing: shareProto(b.Weighing),
		EvaporationMetric: float64(b.EvaporationMetric), EvaporationUs: b.EvaporationUS,
		WarnMin: wholes(b.WarnBefore, time.Minute), Week: each(b.Week, WorkDays.proto),
		Except:   each(b.Except, WorkException.proto),
		Replaces: hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_SitePlanned) Body { return sitePlannedOf(k.SitePlanned) })

func sitePlannedOf(p *hodv1.SitePlanned) SitePlanned {
	return SitePlanned{
		Name: p.GetName(), Place: p.GetPlace(), Units: Units(p.GetUnits()), TimeZone: p.GetTimeZone(),
		WorkFrom: whole(p.GetWorkFromMin(), time.Minute), WorkTo: whole(p.GetWorkToMin(), time.Minute),
		Loss: shareOf(p.GetLoss()), Closing: shareOf(p.GetClosing()), Weighing: shareOf(p.GetWeighing()),
		EvaporationMetric: unit.Evaporation(p.GetEvaporationMetric()), EvaporationUS: p.GetEvaporationUs(),
		WarnBefore: whole(p.GetWarnMin(), time.Minute), Week: each(p.GetWeek(), workDaysOf),
		Except:   each(p.GetExcept(), workExceptionOf),
		Replaces: hashesOf(p.GetReplaces()),
	}
}
