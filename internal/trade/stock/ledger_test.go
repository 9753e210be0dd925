package stock

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/unit"
)

func at(day, hour int) time.Time { return time.Date(2031, 7, day, hour, 0, 0, 0, time.UTC) }

func keep(t testing.TB, entries ...Entry) Ledger {
	t.Helper()
	l, err := Keep("sand", entries)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestBalances(t *testing.T) {
	for _, c := range []struct {
		name    string
		entries []Entry
		on      unit.Mass
		short   unit.Mass
		off     unit.Mass // sum of discrepancies
	}{
		{"nothing written", nil, 0, 0, 0},
		{"received and used", []Entry{
			{At: at(1, 7), Kind: Received, Amount: 1000},
			{At: at(1, 9), Kind: Used, Amount: 180},
		}, 820, 0, 0},
		{"spoiled counts as gone", []Entry{
			{At: at(1, 7), Kind: Received, Amount: 1000},
			{At: at(1, 9), Kind: Spoiled, Amount: 40},
		}, 960, 0, 0},
		{"a count sets the balance and shows what was missing", []Entry{
			{At: at(1, 7), Kind: Received, Amount: 1000},
			{At: at(1, 9), Kind: Used, Amount: 180},
			{At: at(1, 18), Kind: Counted, Amount: 790},
		}, 790, 0, -30},
		{"a count resets as of its time, not as of when it was written", []Entry{
			{At: at(1, 18), Kind: Counted, Amount: 790},
			{At: at(2, 9), Kind: Used, Amount: 100},
			{At: at(1, 9), Kind: Used, Amount: 180},
		}, 690, 0, 970},
		{"more used than was received", []Entry{
			{At: at(1, 7), Kind: Received, Amount: 100},
			{At: at(1, 9), Kind: Used, Amount: 180},
		}, -80, 80, 0},
		{"the missing delivery is written late", []Entry{
			{At: at(1, 7), Kind: Received, Amount: 100},
			{At: at(1, 9), Kind: Used, Amount: 180},
			{At: at(1, 8), Kind: Received, Amount: 500},
		}, 420, 0, 0},
		{"a delivery after the shortage makes it good only by what it brings", []Entry{
			{At: at(1, 9), Kind: Used, Amount: 180}, {At: at(1, 12), Kind: Received, Amount: 100},
		}, -80, 80, 0},
		{"at one instant the tie decides: count, then use", []Entry{
			{At: at(1, 9), Tie: "n2/1", Kind: Used, Amount: 10}, {
				At: at(1, 9), Tie: "n1/9", Kind: Counted,
				Amount: 100,
			},
		}, 90, 0, 100},
		{"at one instant the tie decides: use, then count", []Entry{
			{At: at(1, 9), Tie: "n1/1", Kind: Used, Amount: 10}, {
				At: at(1, 9), Tie: "n2/9", Kind: Counted,
				Amount: 100,
			},
		}, 100, 0, 110},
		{"three thirds leave nothing, not a billionth short", []Entry{
			{At: at(1, 1), Kind: Received, Amount: 0.3},
			{At: at(1, 2), Kind: Used, Amount: 0.1},
			{At: at(1, 3), Kind: Used, Amount: 0.1},
			{At: at(1, 4), Kind: Used, Amount: 0.1},
		}, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := keep(t, c.entries...)
			b := l.Latest()
			var off unit.Mass
			for _, line := range l.Lines {
				off += line.Discrepancy
			}
			if math.Abs(float64(b.OnHand-c.on)) > 1e-9 || math.Abs(float64(b.Short-c.short)) > 1e-9 ||
				math.Abs(float64(off-c.off)) > 1e-9 {
				t.Errorf("on hand %v, short %v, discrepancy %v; want %v, %v, %v", b.OnHand, b.Short, off, c.on, c.short,
					c.off)
			}
			if warned := l.Warning(at(31, 0)) != ""; warned != (c.short > 0) {
				t.Errorf("warning %q", l.Warning(at(31, 0)))
			}
		})
	}
}

func TestBalanceAtAnInstant(t *testing.T) {
	l := keep(t, Entry{At: at(1, 7), Kind: Received, Amount: 500}, Entry{At: at(2, 7), Kind: Counted, Amount: 480},
		Entry{At: at(3, 7), Kind: Used, Amount: 100})
	for _, c := range []struct {
		t       time.Time
		on      unit.Mass
		counted bool
	}{{at(1, 6), 0, false}, {at(1, 7), 500, false}, {at(2, 6), 500, false}, {at(2, 7), 480, true}, {
		at(4, 0), 380,
		true,
	}} {
		if b := l.At(c.t); b.OnHand != c.on || b.Counted != c.counted || (b.Counted && !b.CountedAt.Equal(at(2, 7))) {
			t.Errorf("%v: %+v, want %v, counted %v", c.t, b, c.on, c.counted)
		}
	}
}

func TestAFirstCountOpensTheLedger(t *testing.T) {
	l := keep(t, Entry{At: at(1, 6), Kind: Used, Amount: 5}, Entry{At: at(1, 7), Kind: Counted, Amount: 500},
		Entry{At: at(2, 7), Kind: Counted, Amount: 480})
	if !l.Lines[1].Opens || l.Lines[2].Opens || l.Lines[2].Discrepancy != -20 {
		t.Errorf("%+v: want the first count to open and the second to miss 20 kg", l.Lines)
	}
	if l := keep(t, Entry{At: at(1, 6), Kind: Received, Amount: 5},
		Entry{At: at(1, 7), Kind: Counted, Amount: 5}); l.Lines[1].Opens {
		t.Errorf("%+v: a count after a delivery opens nothing", l.Lines)
	}
}

func TestShortsNameTheEntriesToLookAt(t *testing.T) {
	l := keep(t,
		Entry{At: at(1, 7), Tie: "a/1", Kind: Received, Amount: 100},
		Entry{At: at(1, 8), Tie: "a/2", Kind: Used, Amount: 90},
		Entry{At: at(1, 9), Tie: "a/3", Kind: Used, Amount: 90},
		Entry{At: at(1, 10), Tie: "a/4", Kind: Received, Amount: 30},
		Entry{At: at(1, 11), Tie: "a/5", Kind: Spoiled, Amount: 5})
	var got []string
	for _, s := range l.Shorts() {
		got = append(got, fmt.Sprintf("%s %g", s.Tie, float64(s.Short)))
	}
	if s := strings.Join(got, ", "); s != "a/3 80, a/5 55" {
		t.Errorf("got %s", s)
	}
	if w := l.Warning(at(1, 12)); !strings.Contains(w, "sand: ledger short by 55 kg") {
		t.Errorf("warning %q", w)
	}
}

func TestADayIsWhatItsMidnightsHold(t *testing.T) {
	place := time.FixedZone("far west", -9*3600)
	l := keep(t,
		Entry{At: at(1, 20), Kind: Received, Amount: 1000},
		Entry{At: at(2, 2), Kind: Used, Amount: 200}, // the evening of the 1st there
		Entry{At: at(2, 20), Kind: Used, Amount: 300},
		Entry{At: at(4, 20), Kind: Counted, Amount: 510})
	day := func(n int) Movement {
		y, m, d := at(n, 20).In(place).Date()
		midnight := time.Date(y, m, d, 0, 0, 0, 0, place)
		return l.Between(midnight, midnight.AddDate(0, 0, 1))
	}
	if d := day(1); d.Used != 200 || d.Received != 1000 || d.Closing != 800 {
		t.Errorf("first day %+v", d)
	}
	if d := day(4); d.Opening != 500 || d.Discrepancy != 10 || d.Closing != 510 {
		t.Errorf("last day %+v", d)
	}
}

func TestBadEntriesAreRefusedByName(t *testing.T) {
	for _, c := range []struct {
		entry Entry
		says  string
	}{
		{Entry{Tie: "n2/7", Kind: Used, Amount: -1}, "n2/7: -1 kg used"},
		{Entry{Tie: "n2/7", Kind: Received, Amount: unit.Mass(math.NaN())}, "n2/7"},
		{Entry{At: at(1, 7), Kind: Received, Amount: unit.Mass(math.Inf(1))}, "of 2031-07-01 07:00:00"},
		{Entry{Tie: "n2/7", Amount: 1}, "not received, used, spoiled or counted"},
	} {
		if _, err := Keep("sand", []Entry{c.entry}); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: got %v, want an error that says %q", c.entry, err, c.says)
		}
	}
	huge := Entry{Kind: Received, Amount: math.MaxFloat64}
	if _, err := Keep("sand", []Entry{huge, huge}); err == nil || !strings.Contains(err.Error(), "too much to add up") {
		t.Errorf("two huge deliveries: %v", err)
	}
}

func anyEntry() *rapid.Generator[Entry] {
	return rapid.Custom(func(t *rapid.T) Entry {
		return Entry{
			At:     at(1, rapid.IntRange(0, 100).Draw(t, "hour")),
			Tie:    rapid.SampledFrom([]string{"", "a/1", "a/2", "b/1"}).Draw(t, "tie"),
			Kind:   Kind(rapid.IntRange(int(Received), int(Counted)).Draw(t, "kind")),
			Amount: unit.Mass(rapid.Float64Range(0, 2000).Draw(t, "kg")),
			Lot:    rapid.SampledFrom([]string{"", "L1", "L2"}).Draw(t, "lot"),
		}
	})
}

func TestOrderOfEntriesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		entries := rapid.SliceOf(anyEntry()).Draw(t, "entries")
		a, err := Keep("sand", entries)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Keep("sand", rapid.Permutation(entries).Draw(t, "shuffled"))
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("order changed the ledger:\n%+v\n%+v", a, b)
		}
	})
}

func TestMaterialIsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, err := Keep("sand", rapid.SliceOf(anyEntry()).Draw(t, "entries"))
		if err != nil {
			t.Fatal(err)
		}
		a := at(1, rapid.IntRange(-1, 101).Draw(t, "from"))
		b := at(1, rapid.IntRange(-1, 101).Draw(t, "to"))
		balanced := func(name string, m Movement) {
			if off := m.Opening + m.Received - m.Used - m.Spoiled + m.Discrepancy - m.Closing; math.Abs(
				float64(off)) > 1e-6+float64(Step)*float64(len(l.Lines)) {
				t.Fatalf("%s: %+v does not add up, by %v", name, m, off)
			}
		}
		balanced("between", l.Between(a, b))
		all := l.Between(at(1, -1), at(1, 101))
		balanced("all", all)
		if all.Opening != 0 || all.Closing != l.Latest().OnHand {
			t.Fatalf("%+v, latest %+v", all, l.Latest())
		}
		var used unit.Mass
		opening := unit.Mass(0)
		for h := -1; h < 101; h += 6 { // a stretch ends where the next begins
			d := l.Between(at(1, h), at(1, min(h+6, 101)))
			balanced(fmt.Sprint("from hour ", h), d)
			if d.Opening != opening {
				t.Fatalf("hour %d opens with %v, the stretch before closed with %v", h, d.Opening, opening)
			}
			opening = d.Closing
			used += d.Used
		}
		if math.Abs(float64(used-all.Used)) > 1e-6 {
			t.Fatalf("the stretches used %v, all %v", used, all.Used)
		}
		for i, line := range l.Lines {
			if line.Short < 0 || line.Short != max(0, -line.OnHand) {
				t.Fatalf("line %d: %+v hides a shortage", i, line)
			}
			if line.Kind == Counted && math.Abs(float64(line.OnHand-line.Amount)) >= float64(Step) {
				t.Fatalf("line %d: count %v leaves %v", i, line.Amount, line.OnHand)
			}
		}
	})
}
