package web

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
)

// invented is a record in memory whose clock stands until it is moved.
type invented struct {
	mu     sync.Mutex
	site   *fold.Site
	wrote  *simtest.Devices
	in     *time.Location
	now    func() time.Time
	number uint64
	more   chan struct{}
	copy   *report.Copy
}

func (r *invented) Now() time.Time { return r.now() }

func (r *invented) View(look func(*fold.Site)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	look(r.site)
}

func (r *invented) Place(*fold.Site) *time.Location { return r.in }

func (r *invented) Copy() *report.Copy { return r.copy }

func (r *invented) Heads() []chain.Head { return chain.HeadsOf(r.site.ID, r.wrote.Events) }

func (r *invented) Latest() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.number
}

func (r *invented) Changed(ctx context.Context, after uint64) (uint64, error) {
	for {
		r.mu.Lock()
		number, more := r.number, r.more
		r.mu.Unlock()
		if number > after {
			return number, nil
		}
		select {
		case <-more:
		case <-ctx.Done():
			return after, ctx.Err()
		}
	}
}

// of what devices wrote up to an instant, at which the clock stands.
func recordOf(t testing.TB, events []event.Event, in *time.Location, now time.Time) *invented {
	t.Helper()
	var until []event.Event
	for _, e := range events {
		if !e.LoggedAt.After(now) {
			until = append(until, e)
		}
	}
	s := fold.New("aldeira", simtest.Root)
	for _, e := range until {
		s.Add(e)
	}
	return &invented{
		site: s, wrote: simtest.Continue(until), in: in, now: func() time.Time { return now },
		number: uint64(len(until)), more: make(chan struct{}),
	}
}

// vault is the invented vault in the afternoon of its hot day.
func vault(t testing.TB) *invented {
	t.Helper()
	in, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	job, err := sim.Vault(in)
	if err != nil {
		t.Fatal(err)
	}
	return jobUntil(t, job, in, time.Date(2031, 5, 13, 16, 54, 0, 0, in))
}

func jobUntil(t testing.TB, job sim.Job, in *time.Location, now time.Time) *invented {
	t.Helper()
	work, err := job.Work()
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.Written(job.Plan, work, job.First.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	return recordOf(t, events, in, now)
}

// shell is a plan of zones in rows and columns, each with some coats; where at is false nobody says where they lie.
func shell(rows, columns, coats int, at bool) []event.Body {
	bodies := []event.Body{
		event.SitePlanned{Name: "Tarn vault", Place: "Underhay", Units: event.Metric, TimeZone: "UTC"},
		event.CrewPlanned{Crew: "north"},
		event.CrewPlanned{Crew: "south"},
		event.MixPlanned{
			Mix: "face", Revision: 1, Air: &unit.As[unit.Share]{SI: 0.06}, WaterLimit: 0.5,
			InitialSet: 150 * time.Minute, SetReference: &unit.As[unit.Celsius]{SI: 23}, Activation: 40,
			Constituents: []event.Constituent{
				{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 42}, Gravity: 3.15},
				{
					Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 85}, Gravity: 2.65,
					Absorption: &unit.As[unit.Share]{SI: 0.01},
				},
				{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16}, Gravity: 1},
			},
		},
	}
	name := func(r, c int) event.Zone { return event.Zone(fmt.Sprintf("%c%d", 'A'+r, c+1)) }
	for r := range rows {
		for c := range columns {
			z := event.ZonePlanned{Zone: name(r, c), Area: unit.As[unit.Area]{SI: 9}, Order: 1 + r*columns + c}
			if at {
				z.At = &event.MapCell{Row: r + 1, Column: c + 1}
			}
			bodies = append(bodies, z)
			for n := range coats {
				bodies = append(bodies, event.CoatPlanned{Coat: event.Coat{
					Zone: z.Zone, Face: event.Outer,
					Number: n + 1,
				}, Thickness: unit.As[unit.Length]{SI: 0.012}, Mix: "face"})
			}
			if c > 0 {
				bodies = append(bodies, event.EdgePlanned{
					A: name(r, c-1), B: z.Zone,
					Length: unit.As[unit.Length]{SI: 3},
				})
			}
			if r > 0 {
				bodies = append(bodies, event.EdgePlanned{
					A: name(r-1, c), B: z.Zone,
					Length: unit.As[unit.Length]{SI: 3},
				})
			}
		}
	}
	return bodies
}

// inWork is such a shell in the afternoon of its second day of work.
func inWork(t testing.TB, bodies []event.Body) *invented {
	t.Helper()
	var crews []event.Crew
	for _, b := range bodies {
		if c, is := b.(event.CrewPlanned); is {
			crews = append(crews, c.Crew)
		}
	}
	job := sim.Job{
		Plan: bodies, First: time.Date(2031, 5, 12, 0, 0, 0, 0, time.UTC), Days: 2, Seed: 3, HotDay: 1,
		Of: func(z event.Zone) event.Crew {
			if len(crews) == 0 {
				return ""
			}
			return crews[int(z[len(z)-1])%len(crews)]
		},
	}
	return jobUntil(t, job, time.UTC, time.Date(2031, 5, 13, 15, 30, 0, 0, time.UTC))
}

// get a page of a record.
func get(r Record, path string) *httptest.ResponseRecorder {
	q := httptest.NewRequest(http.MethodGet, "/p/"+path, nil)
	w := httptest.NewRecorder()
	New(r, zerolog.Nop()).Answer(w, q, Visit{Path: strings.TrimPrefix(q.URL.Path, "/p/")})
	return w
}

func TestThePageOfAFortyZoneSiteIsUnderFiftyKilobytes(t *testing.T) {
	for _, all := range []string{"", "?coat=all"} {
		size := get(inWork(t, shell(5, 8, 3, true)), "now"+all).Body.Len()
		t.Logf("now%s: %d bytes", all, size)
		if size >= 50<<10 {
			t.Errorf("now%s is %d bytes before compression", all, size)
		}
	}
}

var noon = time.Date(2031, 5, 12, 12, 0, 0, 0, time.UTC)
