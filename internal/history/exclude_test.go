package history_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/sim/simtest"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// excluding gives the events of the small job with exclusions by the site's own device, and what counts of them by
// hand.
func excluding(t *testing.T, bodies ...event.DeviceExcluded) (all, counted []event.Event) {
	t.Helper()
	job := foldtest.SmallJob(t)
	from := map[event.Device]uint64{}
	seq := uint64(0)
	for _, e := range job {
		if e.Device == simtest.Root {
			seq = max(seq, e.Seq)
		}
	}
	all = slices.Clone(job)
	for i, b := range bodies {
		at := foldtest.Midnight.Add(time.Duration(40*60+i) * time.Minute)
		e, err := event.Write(event.Event{
			Name:       event.Name{Device: simtest.Root, Seq: seq + 1 + uint64(i)},
			HappenedAt: at, LoggedAt: at, Body: b,
		})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, e)
		from[b.Device] = b.FromSeq
	}
	for _, e := range all {
		if first := from[e.Device]; first == 0 || e.Seq < first || e.Device == simtest.Root {
			counted = append(counted, e)
		}
	}
	return all, counted
}

func TestWhatIsExcludedIsNoPartOfTheSiteInWhateverOrderItCame(t *testing.T) {
	now := foldtest.Midnight.Add(41 * time.Hour)
	all, counted := excluding(t,
		event.DeviceExcluded{Device: "n1", FromSeq: 9, Why: "at first"}, event.DeviceExcluded{Device: "s1", FromSeq: 1},
		event.DeviceExcluded{Device: "n1", FromSeq: 4, Why: "and more"}, event.DeviceExcluded{Device: "s1", FromSeq: 0},
		event.DeviceExcluded{Device: simtest.Root, FromSeq: 1, Why: "itself"})
	if len(counted) >= len(all) || len(counted) < len(all)/3 {
		t.Fatalf("of %d events %d count", len(all), len(counted))
	}
	inAnyOrder(t, all, counted, now, func(s *fold.Site) {
		t.Helper()
		if is := s.Exclusions(); len(is) != 1 || is["n1"].From != 4 || !s.Excluded(event.Name{Device: "n1", Seq: 4}) ||
			s.Excluded(event.Name{Device: "n1", Seq: 3}) {
			t.Errorf("excluded are %v", is)
		}
	})
	// An exclusion whose name goes to another event, of a lesser hash, does not hold.
	all, _ = excluding(t)
	all = append(all, forkedExclusion(t, all, event.DeviceExcluded{Device: "n1", FromSeq: 4})...)
	inAnyOrder(t, all, all, now, func(s *fold.Site) {
		t.Helper()
		if is := s.Exclusions(); len(is) != 0 {
			t.Errorf("excluded are %v", is)
		}
	})
}

// inAnyOrder has all events come in drawn orders, some again and some after somebody asked, and compares the site with
// that of what counts.
func inAnyOrder(t *testing.T, all, counted []event.Event, now time.Time, check func(*fold.Site)) {
	t.Helper()
	want := foldtest.Everything(t, foldtest.Folded(counted...), now)
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 1))
		s := fold.New("tarn", simtest.Root)
		for i, k := range r.Perm(len(all)) {
			s.Add(all[k])
			s.Add(all[r.IntN(len(all))])
			if i%40 == 7 {
				s.Records() // somebody asks meanwhile
			}
		}
		for _, e := range all {
			s.Add(e)
		}
		if got := foldtest.Everything(t, s, now); got != want {
			t.Fatalf("seed %d: the site differs from that of what counts:\n%s", seed, cmp.Diff(want, got))
		}
		check(s)
	}
}

// forkedExclusion is an exclusion and a note by one name, the next of the site's own device, of which the note has the
// lesser hash, and stands.
func forkedExclusion(t *testing.T, job []event.Event, b event.DeviceExcluded) []event.Event {
	t.Helper()
	seq := uint64(1)
	for _, e := range job {
		if e.Device == simtest.Root {
			seq = max(seq, e.Seq+1)
		}
	}
	write := func(b event.Body) event.Event {
		at := foldtest.Midnight.Add(40 * time.Hour)
		e, err := event.Write(event.Event{
			Name: event.Name{Device: simtest.Root, Seq: seq}, HappenedAt: at,
			LoggedAt: at, Body: b,
		})
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	excludes := write(b)
	than := excludes.Hash()
	for i := range 1000 {
		note := write(event.Noted{Text: fmt.Sprintf("copy %d", i)})
		if h := note.Hash(); bytes.Compare(h[:], than[:]) < 0 {
			return []event.Event{excludes, note}
		}
	}
	t.Fatal("no note has a lesser hash")
	return nil
}

func TestAnExclusionThatLostItsNameToAnotherEventExcludesNothing(t *testing.T) {
	job := foldtest.SmallJob(t)
	forked := forkedExclusion(t, job, event.DeviceExcluded{Device: "n1", FromSeq: 1})
	ask := event.Name{Device: "n1", Seq: 1}
	s := foldtest.Folded(append(slices.Clone(job), forked[0])...)
	if !s.Excluded(ask) {
		t.Fatal("it excludes nothing before the other comes")
	}
	s.Add(forked[1])
	if s.Excluded(ask) || len(s.Exclusions()) > 0 {
		t.Errorf("excluded are %v; what n1 wrote counts: %t", s.Exclusions(), !s.Excluded(ask))
	}
	other := foldtest.Folded(append(slices.Clone(job), forked[1], forked[0])...)
	now := foldtest.Midnight.Add(41 * time.Hour)
	if got, want := foldtest.Everything(t, s, now), foldtest.Everything(t, other, now); got != want {
		t.Errorf("the note last, and first:\n%s", cmp.Diff(want, got))
	}
}

func TestAnExclusionThatIsTakenBackLeavesTheSiteAsItWas(t *testing.T) {
	now := foldtest.Midnight.Add(41 * time.Hour)
	all, _ := excluding(t, event.DeviceExcluded{Device: "n1", FromSeq: 1}, event.DeviceExcluded{Device: "n1"})
	text := func(s *fold.Site) string { return boards(t, s, now) }
	if got, want := text(foldtest.Folded(all...)), text(foldtest.Folded(foldtest.SmallJob(t)...)); got != want {
		t.Errorf("after it was taken back:\n%s\nbefore:\n%s", got, want)
	}
	s := foldtest.Folded(all[:len(all)-1]...)
	if got := text(s); got == text(foldtest.Folded(foldtest.SmallJob(t)...)) {
		t.Fatal("it excludes nothing")
	}
	s.Add(all[len(all)-1])
	if got, want := text(s), text(foldtest.Folded(foldtest.SmallJob(t)...)); got != want {
		t.Errorf("it was taken back after somebody had asked:\n%s\nbefore:\n%s", got, want)
	}
}

func TestOnlyTheSitesOwnDeviceExcludes(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 1, event.Noted{Text: "stays"})
	for _, by := range []event.Device{"f1", "n2", "s1", "i1"} {
		d.By(by, 2, event.DeviceExcluded{Device: "n1", FromSeq: 1})
	}
	s := d.Site()
	if len(s.Exclusions()) != 0 || s.Excluded(event.Name{Device: "n1", Seq: 1}) {
		t.Errorf("excluded are %v", s.Exclusions())
	}
	if got := strings.Split(foldtest.Aside(s), " "); len(got) != 4 ||
		slices.ContainsFunc(got, func(one string) bool { return !strings.HasSuffix(one, ":no-right") }) {
		t.Errorf("set aside are %q, want the four exclusions, for want of the right", got)
	}
}

// The cost of a flood ends with its exclusion: what came is not read any more.
func TestWhatIsExcludedIsNotReadAgain(t *testing.T) {
	d := foldtest.NewDesk(t)
	for i := range 2000 {
		d.By("n1", i%600, event.Noted{Text: "flood"})
	}
	d.By(simtest.Root, 700, event.DeviceRevoked{Device: "n1", LastSeq: 2000})
	d.By(simtest.Root, 701, event.DeviceExcluded{Device: "n1", FromSeq: 1})
	s := d.Site()
	s.Records()
	was := s.Cost.Readings
	for i := range 200 {
		d.By("n1", 800, event.Noted{Text: "and on"})
		s.Add(d.Events[len(d.Events)-1])
		if s.Records(); i == 0 && len(s.Records()) > len(d.Events)-2000 {
			t.Errorf("%d records are shown", len(s.Records()))
		}
	}
	if n := s.Cost.Readings - was; n != 0 {
		t.Errorf("200 events that do not count had %d events looked at", n)
	}
}

func boards(t *testing.T, s *fold.Site, now time.Time) string {
	t.Helper()
	day, err := daily.DayOf(s, now, foldtest.Place, now.AddDate(0, 0, -1).In(foldtest.Place).Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.MarshalIndent([]any{
		daily.BoardOf(s, now, foldtest.Place), view.JointsOf(s, now, foldtest.Place),
		day,
	}, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
