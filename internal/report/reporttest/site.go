package reporttest

import (
	"slices"
	"time"

	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
)

// An invented site on an invented coast: the Heron Vault at Brackwater, on the afternoon of its second hot day.
var (
	In    = time.FixedZone("", 2*60*60)
	Now   = Clock(14, 5)
	Coats = []view.CoatLine{
		{
			Zone: "A1", Face: "outer", Coat: 1, Mix: "shell", State: "done", AreaM2: 9.2, DesignM: 0.015,
			MeanThicknessM: 0.0152, NeededM3: 0.138, PlacedM3: 0.140, Batches: 3.25, LastPlacedAt: At(9, 40),
		},
		{
			Zone: "A2", Face: "outer", Coat: 1, Mix: "shell", State: "done", AreaM2: 9.2, DesignM: 0.015,
			MeanThicknessM: 0.0149, NeededM3: 0.138, PlacedM3: 0.137, LeftM3: 0.001, Batches: 3.2,
			LastPlacedAt: At(10, 55),
		},
		{
			Zone: "A3", Face: "outer", Coat: 1, Mix: "shell", State: "under way", AreaM2: 11.5, DesignM: 0.015,
			MeanThicknessM: 0.0121, NeededM3: 0.1725, PlacedM3: 0.139, LeftM3: 0.0335, Batches: 3.3,
			LastPlacedAt: At(13, 31),
		},
		{
			Zone: "A4", Face: "outer", Coat: 1, Mix: "shell", State: "under way", AreaM2: 11.5, DesignM: 0.015,
			MeanThicknessM: 0.0038, NeededM3: 0.1725, PlacedM3: 0.0437, LeftM3: 0.1288, Batches: 1,
			LastPlacedAt: At(13, 52),
		},
		{
			Zone: "B1", Face: "outer", Coat: 1, Mix: "shell", State: "waiting", AreaM2: 10, DesignM: 0.015,
			NeededM3: 0.15,
			LeftM3:   0.15,
		},
		{
			Zone: "B2", Face: "outer", Coat: 1, Mix: "shell", State: "waiting", AreaM2: 10, DesignM: 0.015,
			NeededM3: 0.15,
			LeftM3:   0.15,
		},
		{
			Zone: "crown", Face: "outer", Coat: 1, Mix: "shell-rich", State: "waiting", AreaM2: 14.4, DesignM: 0.012,
			NeededM3: 0.173, LeftM3: 0.173,
		},
		{
			Zone: "A1", Face: "inner", Coat: 1, Mix: "shell", State: "waiting", AreaM2: 8.9, DesignM: 0.010,
			NeededM3: 0.089, LeftM3: 0.089,
		},
		{
			Zone: "A2", Face: "inner", Coat: 1, Mix: "shell", State: "waiting", AreaM2: 8.9, DesignM: 0.010,
			NeededM3: 0.089, LeftM3: 0.089,
		},
	}
	Edges = []view.Joint{
		{
			ID: "j7", Kind: "inside", Zone: "A3", Face: "outer", Coat: 1, State: "closing", ConsumedLow: 0.87,
			ConsumedHigh: 0.87, ClosesAt: At(13, 58), TurnsAt: At(14, 23),
			SetMinutes: 240, SetReferenceC: 23, MaterialC: 33.1, MaterialSource: "reading q1/77 at 13:40",
			Earlier: []string{"q1/70"},
		},
		{
			ID: "j4", Kind: "edge", Zone: "A2", Face: "outer", Coat: 1, Other: "A4", State: "cold", ConsumedLow: 1.06,
			ConsumedHigh: 1.06, ClosesAt: At(13, 20), TurnsAt: At(13, 53),
			SetMinutes: 240, SetReferenceC: 23, MaterialC: 34.2, MaterialSource: "air, thin layer", Length: 3.4,
			Earlier: []string{"n2/131", "n2/134"},
		},
		{
			ID: "j9", Kind: "edge", Zone: "A3", Face: "outer", Coat: 1, Other: "B1", State: "live", ConsumedLow: 0.31,
			ConsumedHigh: 0.62, ClosesAt: At(14, 20), TurnsAt: At(14, 40), TurnsLatest: At(15, 35),
			SetMinutes: 240, SetReferenceC: 23, MaterialC: 33.1, MaterialSource: "air, thin layer", Length: 2.75,
			Earlier: []string{"q1/70", "q1/74", "q1/79"},
			Note:    "no placement of A3 says that it ran along B1: the oldest and the newest are both possible",
		},
		{
			ID: "j12", Kind: "edge", Zone: "A4", Face: "outer", Coat: 1, Other: "B2", State: "live", ConsumedLow: 0.08,
			ConsumedHigh: 0.08, ClosesAt: At(16, 10), TurnsAt: At(16, 48),
			SetMinutes: 240, SetReferenceC: 23, MaterialC: 32.7, MaterialSource: "air, thin layer", Length: 2.75,
			Earlier: []string{"n2/152"},
		},
	}
	old = []view.Joint{{
		ID: "j1", Kind: "edge", Zone: "B2", Face: "outer", Coat: 1, Other: "crown", State: "cold", ConsumedLow: 4,
		ConsumedHigh: 4, TurnsAt: Yesterday(16, 12), Old: true,
		SetMinutes: 240, SetReferenceC: 23, MaterialC: 29.2, MaterialSource: "air, thin layer", Length: 3.1,
		Earlier: []string{"n2/98"},
	}}
	made = []view.Joint{
		{
			ID: "j2", Kind: "edge", Zone: "A1", Face: "outer", Coat: 1, Other: "A2", State: "cold", Made: true,
			ConsumedLow: 1.12, ConsumedHigh: 1.31, MadeAt: At(10, 48), TurnsAt: At(10, 30), TurnsLatest: At(10, 40),
			SetMinutes: 240, SetReferenceC: 23, MaterialC: 30.4, MaterialSource: "air, thin layer", Length: 3.4,
			Earlier: []string{"n2/118", "n2/121"}, Later: []string{"n2/131"},
			Treated: []string{"11:20 chipped, wetted, slurried (n2/136)"},
		},
		{
			ID: "j5", Kind: "edge", Zone: "A3", Face: "outer", Coat: 1, Other: "A4", State: "live", Made: true,
			ConsumedLow: 0.2, ConsumedHigh: 0.41, MadeAt: At(13, 52), SetMinutes: 240, SetReferenceC: 23, MaterialC: 33,
			Length: 3.4,
		},
		{
			ID: "j6", Kind: "inside", Zone: "A4", Face: "outer", Coat: 1, State: "live", Made: true, ConsumedLow: 0.05,
			ConsumedHigh: 0.05, MadeAt: At(13, 52), SetMinutes: 240, SetReferenceC: 23, MaterialC: 33,
		},
	}
	strength = []view.Strength{
		{
			Zone: "A1", Face: "outer", Coat: 1, Probe: "p1", Readings: 96, MoistH: 31, MoistAskedH: 168,
			StrengthPa: new(18.4e6), LowPa: new(15.9e6), HighPa: new(20.9e6), MaturityCH: 1412, EquivalentAgeH: 53.4,
			LowestC: 21.5,
		},
		{
			Zone: "A2", Face: "outer", Coat: 1, Probe: "hand", Readings: 12, MaturityCH: 210, EquivalentAgeH: 7.1,
			LowestC: 24, MoistH: 5, MoistAskedH: 168, Note: "no reading from 11:00 to 12:40",
		},
	}
)

func Clock(hour, minute int) time.Time { return time.Date(2026, 7, 18, hour, minute, 0, 0, In) }

func Yesterday(hour, minute int) *time.Time {
	t := Clock(hour, minute).AddDate(0, 0, -1)
	return &t
}

func At(hour, minute int) *time.Time {
	t := Clock(hour, minute)
	return &t
}

func Flags(units string) []daily.Flag {
	temperature, rate, limit := "34.6 °C", "1.24 kg/m²/h", "0.5 kg/m²/h"
	if units == "us" {
		temperature, rate, limit = "94.3 °F", "0.254 lb/ft²/h", "0.1 lb/ft²/h"
	}
	return []daily.Flag{
		{
			ID: "f3", Code: "cold-joint", Grave: true, Subject: "A1 outer 1",
			Text:  "A2 met the edge of A1 outer 1 at 10:48, when 112 to 131% of its initial set was used up",
			Since: Clock(10, 48), Open: true,
			Evidence: []daily.Fact{
				{Name: "initial set", Value: "240 min at 23 °C, as mix shell states it"},
				{Name: "earlier material", Value: "batch north/2026-07-18/4, water in at 06:55"},
				{Name: "temperature", Value: "30.4 °C, from the air on a thin layer"},
				{Name: "equivalent age", Value: "269 to 314 min at 23 °C"},
			},
			Formula: "equivalent age, te = sum of exp(-Q (1/T - 1/Tr)) dt; consumed = te / initial set",
			Limit:   "1 of initial set", Source: "ASTM C1074 and ASTM C403/C403M",
			Events:  []string{"n2/118", "n2/121", "n2/131"},
			Caution: "What lies under a cold joint is for the responsible engineer to judge.",
		},
		{
			ID: "d1", Code: "drying", Grave: true, Subject: "A3", Text: "A3 outer 1 lay bare from 13:35 while " + rate +
				" dried away; the limit is " + limit, Since: Clock(13, 35), Open: true,
			Evidence: []daily.Fact{{Name: "surface", Value: temperature}}, Formula: "Uno", Limit: limit,
			Source: "ACI 305R", Events: []string{"q1/79", "q1/81"},
		},
		{
			ID: "w2", Code: "water-limit", Subject: "batch quay/2026-07-18/3",
			Text: "batch quay/2026-07-18/3 has w/cm 0.412; the mix allows 0.400", Since: Clock(11, 15), Open: true,
		},
		{
			ID: "k1", Code: "clock", Subject: "q1", Text: "the clock of q1 is 4 min behind the server's",
			Since: Clock(8, 2), Answer: "set by hand at noon", Answerer: "Tobin Reed",
		},
	}
}

func Conditions(units string) view.Conditions {
	c := view.Conditions{
		Site: "Heron Vault", AsOf: Now, Units: units, ReadAt: At(13, 40), Station: "mast", AirC: new(33.4),
		Humidity: new(0.28), DewPointC: new(12.3), WindMPS: new(4.1), WindReadMPS: new(5.6), WindHeightM: new(2.0),
		SurfaceC: new(34.6), SurfaceSource: "reading q1/77", EvaporationKgM2H: new(1.241),
		EvaporationLbFt2H: new(0.2541), MenzelKgM2H: new(1.19), LimitKgM2H: 0.5, LimitLbFt2H: 0.1, OverLimit: new(true),
		HeatIndexF:     new(92.6),
		FreshUncovered: []string{"A3 outer 1", "A4 outer 1"},
		Judgements:     []string{"hot: mortar above 32 °C sets early; shade it and cool the water"},
		Missing:        []string{"sun"},
		Caution:        "Wet cement burns skin and eyes: gloves and eye protection, wash at once.",
		ForecastSource: "the harbour office",
	}
	for i, e := range []float64{1.2, 1.0, 0.7, 0.4} {
		h := view.Hour{At: Clock(15+i, 0), AirC: new(33 - float64(i)), EvaporationKgM2H: new(e), Workable: e < 1}
		if !h.Workable {
			h.Why = "evaporation over the limit"
		}
		if i == 3 {
			h.RainMM = new(1.2)
		}
		c.Hours = append(c.Hours, h)
	}
	return c
}

// AirAlone is the same weather 40 minutes later, when somebody read the air alone.
func AirAlone(units string) view.Conditions {
	c := Conditions(units)
	c.LastFullAt, c.CountsForMin, c.Hours = c.ReadAt, 120, nil
	c.Since = []view.Reading{{ReadAt: Clock(14, 20), Station: "site", AirC: new(34.0)}}
	return c
}

// TooOld is a reading of air and rain, long after the last full one.
func TooOld(units string) view.Conditions {
	return view.Conditions{
		Site: "Heron Vault", AsOf: Now, Units: units, ReadAt: At(13, 40), Station: "site", AirC: new(33.4),
		LimitKgM2H: 0.5, LimitLbFt2H: 0.1,
		SurfaceC: new(34.6), SurfaceSource: "reading q1/77", FreshUncovered: []string{"A3 outer 1"},
		Missing:    []string{"humidity", "wind"},
		LastFullAt: At(9, 10), CountsForMin: 120,
		TooOld: "the last reading of air, humidity and wind together, of 09:10, is 4 h 50 min old and counts for 2 h",
	}
}

func Board(units string) daily.Board {
	c := Conditions(units)
	return daily.Board{
		Site: "Heron Vault", AsOf: Now, Units: units, Zones: Coats, LiveEdges: Edges, OldEdges: 11,
		NextCold: &view.NextCold{Zone: "A3", Face: "outer", Coat: 1, TurnsAt: Clock(14, 23)}, Flags: Flags(units)[:3],
		BatchesLeft: &ahead.BatchesLeft{P50: 19, P90: 21}, Weather: &c,
		Crews: []daily.CrewLine{
			{Crew: "north", Batches: 7, MixedM3: 0.307, PlacedM3: 0.3, LastEventAt: At(13, 58)},
			{Crew: "quay", Batches: 4, MixedM3: 0.17, PlacedM3: 0.16, LastEventAt: At(13, 31)},
		},
	}
}

func Joints(units string) view.Joints {
	return view.Joints{Site: "Heron Vault", AsOf: Now, Units: units, Joints: slices.Concat(Edges, old, made)}
}

func needs() []ahead.MaterialNeed {
	return []ahead.MaterialNeed{
		{
			Material: "cement", PerBatchKg: 42.6, OnHandKg: new(1240.0), Need50Kg: 809, Need90Kg: 895,
			LastsBatches: new(int32(29)), Counted: true, BagKg: new(42.6), PerBatchBags: new(1.0),
			OnHandBags: new(1240 / 42.6), Need50Bags: new(19.0), Need90Bags: new(21.0),
		},
		{
			Material: "sand", PerBatchKg: 42.6, OnHandKg: new(610.0), Need50Kg: 809, Need90Kg: 895, ShortKg: new(285.0),
			LastsBatches: new(int32(14)), RunsOut: "Sun 19 Jul, about 14:00", Counted: true,
		},
		{Material: "ar-glass", PerBatchKg: 1.1, Need50Kg: 20.9, Need90Kg: 23.1},
	}
}

func tomorrow() ahead.Tomorrow {
	needs := needs()
	needs[0].Need50Kg, needs[0].Need90Kg = 596, 639
	needs[0].Need50Bags, needs[0].Need90Bags, needs[0].Left50Kg, needs[0].Left50Bags = new(14.0), new(15.0), new(985.0),
		new(985/42.6)
	needs[1].Left50Kg = new(610.0)
	needs[1].Need50Kg, needs[1].Need90Kg, needs[1].ShortKg, needs[1].RunsOut = 596, 639, new(29.0), "about 17:00"
	needs[2].Need50Kg, needs[2].Need90Kg = 15.4, 16.5
	return ahead.Tomorrow{
		Date: "2026-07-19", Hours: 7.5, Batches: new(int32(15)), P50: new(int32(14)),
		Shares: []ahead.CrewCoat{
			{Crew: "north", Zone: "A3", Face: "outer", Coat: 2, Mix: "shell", Batches: 7.8},
			{Crew: "quay", Zone: "B1", Face: "outer", Coat: 1, Mix: "shell-rich", Batches: 6.1},
		}, Materials: needs,
		Note: "Hours from 12:00 to 15:00 are over the evaporation limit.",
	}
}

func Forecast(units string) ahead.Forecast {
	f := ahead.Forecast{
		Site: "Heron Vault", AsOf: Now, Units: units, VolumeM3: 0.814, Batches: &ahead.BatchesLeft{P50: 19, P90: 21},
		Materials: needs(), Pace: new(2.2), PaceNote: "From the last 11 batches.",
		WorkHours50: new(8.6), WorkHours90: new(9.5), Tomorrow: tomorrow(),
	}
	end50, end90 := Clock(16, 10).AddDate(0, 0, 1), Clock(8, 30).AddDate(0, 0, 2)
	f.Finish50, f.Finish90 = &end50, &end90
	f.Batches.P05, f.Batches.P95, f.InTransit = 17, 22, 1.4
	f.Width = &ahead.Width{
		SiteBatches: 1.6, CoatsBatches: 1.2, YieldBatches: 0.4, ScatterBatches: 0.6, PaceHours: 1.3,
		TakenShare: 1.06, TakenSD: 0.03, CoatSD: 0.04, Finished: 5, Weighed: 6, Gaps: 11, Draws: 1024, WorthDraws: 911,
		IdleDays: 0.02,
	}
	f.Lists = "the plan does not say which crew places what; by the record each has zones of its own"
	f.Missing = []string{
		"B2 outer 1 is finished with 1.8 times its design volume: look at its record, its area and its thickness",
	}
	f.Advice = []string{
		"finish a coat and say so, or measure thicknesses with a gauge as you place: what coats really take is what is known least",
	}
	m := ahead.MixForecast{
		Mix: "shell", VolumeM3: 0.641, YieldMeanM3: new(0.0437), YieldSDM3: new(0.0021), Tested: 6,
		P50: 15, P90: 16,
	}
	m.Bags = []ahead.MixBags{{
		Material: "cement", BagKg: 42.6, PerBatch: 1, P05: 13, P10: 14, P25: 14, P50: 15, P75: 16,
		P90: 16, P95: 17,
	}}
	for i, c := range []float64{0.001, 0.04, 0.31, 0.72, 0.94, 0.992, 0.999, 1} {
		m.Distribution = append(m.Distribution, ahead.Count{Batches: int32(12 + i), Cumulative: c})
	}
	m.P90 = 16
	f.Mixes = []ahead.MixForecast{m, {
		Mix: "shell-rich", VolumeM3: 0.173, YieldMeanM3: new(0.043),
		YieldSDM3: new(0.003), P50: 4, P90: 5, Distribution: []ahead.Count{
			{Batches: 4, Cumulative: 0.58},
			{Batches: 5, Cumulative: 1},
		},
	}}
	return f
}

func Stock(units string) view.Stock {
	return view.Stock{Site: "Heron Vault", AsOf: Now, Units: units, Materials: []view.MaterialStock{
		{
			Material: "cement", OnHandKg: new(1240.0), ReceivedKg: 1880, UsedKg: 598, UsedTodayKg: 469, SpoiledKg: 42,
			CountedAt: At(7, 10),
			BagKg:     new(42.6), BagSaid: "as written in q1/12", OnHandBags: new(1240 / 42.6),
			ReceivedBags: new(1880 / 42.6), UsedBags: new(598 / 42.6), UsedTodayBags: new(469 / 42.6),
			SpoiledBags: new(42 / 42.6),
		},
		{
			Material: "sand", OnHandKg: new(610.0), ReceivedKg: 1200, UsedKg: 590, UsedTodayKg: 465,
			CountedAt:     At(7, 15),
			DiscrepancyKg: new(-38.0), Note: "counted in buckets",
		},
		{Material: "ar-glass", OnHandKg: new(-1.4), ReceivedKg: 14, UsedKg: 15.4, UsedTodayKg: 12.1},
	}}
}

func Zone(units string) view.Zone {
	return view.Zone{
		Site: "Heron Vault", AsOf: Now, Units: units, Zone: "A3", Shape: "vault, span 6 m, rise 2.1 m", AreaM2: 11.5,
		Edges: []view.ZoneEdge{{With: "A2", LengthM: 3.4}, {With: "A4", LengthM: 3.4}, {With: "B1", LengthM: 2.75}},
		Coats: []view.ZoneCoat{
			{Progress: Coats[2], Placements: []view.PlacementLine{
				{
					Name: "q1/70", Batch: "quay/2026-07-18/2", From: Clock(11, 2), To: Clock(11, 31), VolumeM3: 0.0437,
					Basis: "weighed", AgeMin: new(48.0), Along: []string{"A2"}, GaugeM: []float64{0.0145, 0.0155},
				},
				{
					Name: "q1/74", Batch: "quay/2026-07-18/3", From: Clock(12, 5), To: Clock(12, 40), VolumeM3: 0.0437,
					Basis: "estimated", AgeMin: new(55.6),
				},
				{
					Name: "q1/79", Batch: "north/2026-07-18/5", From: Clock(13, 2), To: Clock(13, 31), VolumeM3: 0.0516,
					Basis: "stated", AgeMin: new(131.0),
				},
			}, Strength: &strength[1]},
			{Progress: view.CoatLine{
				Zone: "A3", Face: "inner", Coat: 1, Mix: "shell", State: "waiting", DesignM: 0.01,
				NeededM3: 0.111, LeftM3: 0.111,
			}},
		},
		Joints: []view.Joint{Edges[1], Edges[2], made[1]},
		Tended: []view.TendedLine{
			{At: Clock(12, 50), Face: "outer", What: "covered", With: "wet burlap"},
			{At: Clock(13, 0), Face: "outer", What: "uncovered"},
		},
	}
}

func entries() []view.Entry {
	return []view.Entry{
		{
			Name: "n2/97", Crew: "north", Person: "Ilse Marrow", At: Clock(16, 20).AddDate(0, 0, -1),
			LoggedAt: Clock(16, 21).AddDate(0, 0, -1), Kind: "place",
			Text: "28.4 L of batch north/2026-07-17/6 in A1 outer 1, 15:58 to 16:20", State: "holds",
		},
		{
			Name: "n2/131", Crew: "north", Person: "Ilse Marrow", At: Clock(10, 48), LoggedAt: Clock(12, 31),
			Kind: "place", Text: "batch north/2026-07-18/4 in A2 outer 1 along A1, 10:48 to 10:55", State: "amended",
			Reason: "by n2/140: the times were the mixer's",
		},
		{
			Name: "q1/75", Crew: "quay", At: Clock(12, 41), LoggedAt: Clock(12, 41), Kind: "place",
			Text: "60 L of batch quay/2026-07-18/3 in A3 outer 1", State: "set aside", Code: "beyond-mixed",
			Reason: "batch quay/2026-07-18/3 has 43.7 L, not 60 L",
		},
		{
			Name: "f1/12", Person: "Tobin Reed", At: Clock(13, 5), LoggedAt: Clock(13, 5), Kind: "note",
			Text: "Asked the harbour office about shade nets; they come on Sunday.", State: "holds",
		},
	}
}

func Log(units string) view.Log {
	return view.Log{Site: "Heron Vault", AsOf: Now, Units: units, Entries: entries()}
}

func Day(units string) daily.Day {
	all := entries()
	warm, flow := 31.8, 1.12
	evening := Edges[3] // it was placed against in the afternoon, and a fresh edge remains
	evening.ConsumedLow, evening.ConsumedHigh, evening.TurnsAt, evening.TurnsLatest = 0.22, 0.48, At(20, 10), At(21, 0)
	return daily.Day{
		Site: "Heron Vault", Place: "Brackwater", Date: "2026-07-18", AsOf: Clock(18, 30), Units: units, JointsMade: 9,
		JointsLive: 7, Provisional: "q1 of crew quay was last heard at 13:31, and its crew has not ended its shift",
		Crews: []daily.CrewDay{
			{
				Crew: "north", Name: "North gang", People: new(int32(4)), From: At(6, 40), To: At(16, 30), Batches: 7,
				MixedM3: 0.307, PlacedM3: 0.3, DiscardedM3: 0.007, WCMMean: new(0.371), WCMMax: new(0.388),
			},
			{
				Crew: "quay", People: new(int32(3)), From: At(7, 5), Batches: 4, MixedM3: 0.17, PlacedM3: 0.139,
				UnplacedM3: 0.031, WCMMean: new(0.384), WCMMax: new(0.412),
			},
		},
		Zones: []daily.CoatDay{{
			Zone: "A2", Face: "outer", Coat: 1, Batches: 3.2, PlacedM3: 0.137, ThicknessM: 0.0149,
			LeftM3: 0.001,
		}, {
			Zone: "A3", Face: "outer", Coat: 1, Batches: 3.3, PlacedM3: 0.139, ThicknessM: 0.0121,
			LeftM3: 0.0335,
		}},
		Tests: []daily.Test{
			{
				Batch: "north/2026-07-18/4", At: Clock(10, 30), UnitWeight: new(2213.0), YieldM3: new(0.0437),
				RelativeYield: new(1.004), Air: new(0.031), TemperatureC: &warm, Flow: &flow, WCM: new(0.371),
				Judgement: "within",
			},
			{
				Batch: "quay/2026-07-18/3", At: Clock(11, 50), UnitWeight: new(2148.0), YieldM3: new(0.0451),
				RelativeYield: new(1.036), Air: new(0.059), WCM: new(0.412),
				Judgement: "2.9% light: more air or more water than designed",
			},
		},
		Weather: daily.WeatherDay{
			Readings: 11, AirLowC: new(21.2), AirHighC: new(33.9), WindHighMPS: new(4.6),
			HumidityLow: new(0.26), RainMM: new(0.0), EvaporationMax: new(1.31), EvaporationAt: At(15, 0),
		},
		Flags: Flags(units), Joints: append(append([]view.Joint{}, made...), evening), Stock: Stock(units),
		Left: Coats[2:7], BatchesLeft: &ahead.BatchesLeft{P50: 19, P90: 21}, Tomorrow: tomorrow(),
		Changes: all[1:2], SetAside: all[2:3], Notes: all[3:4], Strength: strength,
		Record: []daily.DeviceEnd{
			{Device: "f1", Crew: "office", Seq: 31, LastAt: Clock(18, 2)},
			{Device: "n2", Crew: "north", Seq: 171, LastAt: Clock(16, 32)},
			{Device: "q1", Crew: "quay", Seq: 81, LastAt: Clock(13, 31)},
		},
		Cautions: []string{
			"Wet cement burns skin and eyes: gloves and eye protection, wash at once, eyes 15 minutes.",
			"An age from temperatures never permits stripping supports or loading the shell.",
		},
	}
}

// PastDay is a day as it is read later: as it ended, with what came late and what a revision corrected.
func PastDay(units string) daily.Day {
	v := Day(units)
	v.AsOf, v.EndedAt, v.Provisional = Clock(18, 30).AddDate(0, 0, 2), At(24, 0), ""
	v.LateBefore = 1
	v.Changes = append([]view.Entry{{
		Name: "f1/40", Crew: "office", At: Clock(8, 0).AddDate(0, 0, 2), LoggedAt: Clock(8, 0).AddDate(0, 0, 2),
		Kind: "mix", State: "holds", Late: true,
		Text:  "mix shell, revision 3, 3 constituents, corrects 2: initial set 4 h, was 2 h",
		Moved: "1 joint live -> cold; 14 batches 69.8 L -> 82.4 L",
	}}, v.Changes...)
	v.Late = []view.Entry{{
		Name: "n2/172", Crew: "north", Person: "Ysolt", At: Clock(16, 10), LoggedAt: Clock(7, 5).AddDate(0, 0, 1),
		Kind: "placement", State: "holds", Late: true,
		Text: "1/2 of batch north/2026-07-18/7 in A3 outer 1",
	}}
	return v
}
