package fold_test

import (
	"fmt"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view/daily"
)

// bigPlan is a shell so large that a job of 100,000 events does not finish it.
func bigPlan(zones int) []event.Body {
	plan := foldtest.SmallPlan()[:4]
	for i := range 6 {
		plan = append(plan, event.CrewPlanned{Crew: event.Crew(fmt.Sprintf("c%d", i)), People: 4})
	}
	for i := range zones {
		z := event.Zone(fmt.Sprintf("Z%02d", i))
		plan = append(plan, event.ZonePlanned{Zone: z, Area: foldtest.As(unit.Area(9000)), Order: i + 1},
			event.CoatPlanned{
				Coat:      event.Coat{Zone: z, Face: event.Outer, Number: 1},
				Thickness: foldtest.As(unit.Length(0.012)), Mix: "face",
			})
		if i > 0 {
			plan = append(plan, event.EdgePlanned{
				A: event.Zone(fmt.Sprintf("Z%02d", i-1)), B: z,
				Length: foldtest.As(unit.Length(3)),
			})
		}
	}
	return plan
}

func bigJob(b *testing.B) []event.Event {
	b.Helper()
	plan := bigPlan(24)
	work, err := sim.Job{Plan: plan, First: foldtest.Midnight, Days: 220, Seed: 3, HotDay: -1}.Work()
	if err != nil {
		b.Fatal(err)
	}
	events, err := simtest.Written(plan, work, foldtest.Midnight)
	if err != nil {
		b.Fatal(err)
	}
	if len(events) < 100_000 {
		b.Fatalf("%d events, not 100,000", len(events))
	}
	return events[:100_000]
}

func BenchmarkFold100k(b *testing.B) {
	events := bigJob(b)
	b.ReportAllocs()
	for b.Loop() {
		foldtest.Folded(events...).Plan()
	}
}

func BenchmarkBoard100k(b *testing.B) {
	s := foldtest.Folded(bigJob(b)...)
	now := foldtest.Midnight.AddDate(0, 0, 220)
	daily.BoardOf(s, now, time.UTC)
	b.ReportAllocs()
	for b.Loop() {
		daily.BoardOf(s, now, time.UTC)
	}
}

func BenchmarkLateEvent100k(b *testing.B) {
	events := bigJob(b)
	s := foldtest.Folded(events...)
	last := map[event.Device]uint64{}
	var batch event.Batch
	for i, e := range events {
		last[e.Device] = max(last[e.Device], e.Seq)
		if m, ok := e.Body.(event.BatchMixed); ok && i < len(events)/2 { // of a full zone, half a year ago
			batch = m.Batch
		}
	}
	d := event.Device("")
	for name, seq := range last {
		if name != "f1" && name != simtest.Root && (d == "" || name < d) {
			d, last[name] = name, seq
		}
	}
	seq := last[d]
	s.Plan()
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		seq++
		e, err := event.Write(event.Event{
			Name: event.Name{Device: d, Seq: seq}, Crew: batch.Crew, HappenedAt: foldtest.Midnight.AddDate(0, 0, 100),
			LoggedAt: foldtest.Midnight.AddDate(0, 0, 101),
			Body:     event.BatchTested{Batch: batch, Temperature: foldtest.Ref(unit.Celsius(20 + float64(seq%10)))},
		})
		if err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		s.Add(e)
		s.Plan()
	}
}

func BenchmarkDecode(b *testing.B) {
	events := bigJob(b)
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		if _, err := event.Read(events[i%len(events)].Bytes()); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// A past day is worked out from the events of the time until then alone: it costs a fold of those.
func BenchmarkPastDay100k(b *testing.B) {
	s := foldtest.Folded(bigJob(b)...)
	now := foldtest.Midnight.AddDate(0, 0, 220)
	date := foldtest.Midnight.AddDate(0, 0, 100).Format(time.DateOnly)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := daily.DayOf(s, now, foldtest.Place, date); err != nil {
			b.Fatal(err)
		}
	}
}
