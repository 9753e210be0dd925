package setting

import (
	"time"

	"hod/internal/unit"
)

// Interval is a limit in clock time that a code or specification prints for material that follows other material. It is
// shown beside the share of initial set consumed and never replaces it: CJ-01 says why.
type Interval struct {
	ID      string
	Of      string        // from what to what the time runs
	Rule    string        // in a sentence
	Most    time.Duration // 0 where the rule names no such time
	MostHot time.Duration // in its place in hot air; 0 where the rule makes no difference
	Least   time.Duration // the later material waits at least this long; 0 where it need not wait
	Keeps   bool          // Least is how long Rule goes on, and nothing waits for it
	HotFrom unit.Celsius  // air temperature that divides Most from MostHot
	HotAtIt bool          // HotFrom itself counts as hot
	Source  string
	Known   string // F read in a copy; M from memory
}

// At is the longest time that i allows in air of that temperature, and whether it names one.
func (i Interval) At(air unit.Celsius) (time.Duration, bool) {
	hot := air > i.HotFrom || (i.HotAtIt && air == i.HotFrom)
	if i.MostHot > 0 && hot {
		return i.MostHot, true
	}
	return i.Most, i.Most > 0
}

// Intervals are the printed limits, CJ-01 to CJ-12 of the published values.
var Intervals = []Interval{
	{
		ID: "CJ-01", Of: "layer to layer",
		Rule:   "a cold joint is where the earlier layer stiffened before the next was placed, so that they do not knit; the test is initial set, or a vibrator that no longer goes in, not a fixed clock",
		Source: "ACI Concrete Terminology; ACI 309R-96; BS 8500-1 A.9.1", Known: "F",
	},
	{
		ID: "CJ-02", Of: "placing to placing", Most: 30 * time.Minute,
		Rule:   "30 min since placing, else make a construction joint",
		Source: "UK Specification for Highway Works cl. 1710", Known: "F",
	},
	{
		ID: "CJ-03", Of: "layer to layer", Most: 30 * time.Minute,
		Rule:   "30 min between successive 12 in layers of a wall",
		Source: "a US project specification", Known: "F",
	},
	{
		ID: "CJ-04", Of: "layer to layer", Most: 150 * time.Minute, MostHot: 120 * time.Minute, HotFrom: 25,
		Rule:   "2.5 h between layers up to 25 °C, 2.0 h above",
		Source: "JSCE Standard Specification (Construction)", Known: "M",
	},
	{
		ID: "CJ-04", Of: "mixing to end of placing", Most: 120 * time.Minute, MostHot: 90 * time.Minute, HotFrom: 25,
		Rule:   "2.0 h from mixing to the end of placing up to 25 °C, 1.5 h above",
		Source: "JSCE Standard Specification (Construction)", Known: "M",
	},
	{
		ID: "CJ-05", Of: "layer to layer", Most: 150 * time.Minute, MostHot: 120 * time.Minute, HotFrom: 25,
		HotAtIt: true,
		Rule:    "150 min between layers below 25 °C, 120 min from 25 °C on",
		Source:  "AIJ JASS 5", Known: "M",
	},
	{
		ID: "CJ-05", Of: "mixing to end of placing", Most: 120 * time.Minute, MostHot: 90 * time.Minute, HotFrom: 25,
		HotAtIt: true,
		Rule:    "120 min from mixing to the end of placing below 25 °C, 90 min from 25 °C on",
		Source:  "AIJ JASS 5", Known: "M",
	},
	{
		ID: "CJ-06", Of: "mixing to end of placing, no admixture", Most: 180 * time.Minute, MostHot: 150 * time.Minute,
		HotFrom: 25,
		Rule:    "transport, placing and pause together: 180 min up to 25 °C, 150 min above, without admixture",
		Source:  "GB 50666", Known: "M",
	},
	{
		ID: "CJ-06", Of: "mixing to end of placing, with admixture", Most: 240 * time.Minute,
		MostHot: 210 * time.Minute, HotFrom: 25,
		Rule:   "transport, placing and pause together: 240 min up to 25 °C, 210 min above, with admixture",
		Source: "GB 50666", Known: "M",
	},
	{
		ID: "CJ-07", Of: "loading to delivery, agitated", Most: 2 * time.Hour,
		Rule: "delivery within 2 h of loading when agitated", Source: "BS 8500-2", Known: "F",
	},
	{
		ID: "CJ-07", Of: "loading to delivery, not agitated", Most: time.Hour,
		Rule: "delivery within 1 h of loading when not agitated", Source: "BS 8500-2", Known: "F",
	},
	{
		ID: "CJ-08", Of: "vibrating to vibrating", Most: 15 * time.Minute,
		Rule:   "keep earlier concrete alive by vibrating it again at about 15 min or less; stop as initial set nears",
		Source: "ACI 309R-96", Known: "F",
	},
	{
		ID: "CJ-09", Of: "first plaster coat to second", Least: 48 * time.Hour,
		Rule:   "cement plaster: moist cure 48 h, second coat not before 48 h (footnotes allow changes)",
		Source: "IBC Table 2512.6 (2018)", Known: "F",
	},
	{
		ID: "CJ-09", Of: "second plaster coat to finish", Least: 7 * 24 * time.Hour,
		Rule:   "cement plaster: moist cure 48 h, finish coat not before 7 d (footnotes allow changes)",
		Source: "IBC Table 2512.6 (2018)", Known: "F",
	},
	{
		ID: "CJ-10", Of: "warmth after plastering", Least: 48 * time.Hour, Keeps: true,
		Rule:   "air above 40 °F (4.4 °C) during plastering and for 48 h after",
		Source: "IBC 2512.4", Known: "F",
	},
	{
		ID: "CJ-11", Of: "shotcrete layer to layer",
		Rule:   "the next layer while the one below is still fresh enough, or after it has set on a surface clean and damp (saturated, surface dry)",
		Source: "ACI 506R / 506.2", Known: "M",
	},
	{
		ID: "CJ-12", Of: "ferrocement section",
		Rule:   "finish the section in one go; after a stop past initial set, clean, dampen, and use a slurry or bonding coat",
		Source: "ACI 549.1R", Known: "M",
	},
}
