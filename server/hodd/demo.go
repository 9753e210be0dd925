package main

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"golang.org/x/term"

	"hod/client/journal"
	"hod/client/remote"
	"hod/client/sync"
	"hod/internal/auth"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/report/summary"
	"hod/internal/sim"
	"hod/internal/view/daily"
	"hod/server/enrol"
)

func newDemo() *cobra.Command {
	var dir string
	var stay bool
	c := &cobra.Command{
		Use: "demo", Short: "A site that invents itself, to look around", Example: "  hodd demo --stay",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usage(
					"hodd demo takes --stay, to keep the server running after it, and --data DIR, to keep its folders there")
			}
			return nil
		},
	}
	c.Flags().BoolVar(&stay, "stay", false, "keep the server running after it")
	c.Flags().StringVar(&dir, "data", "", "`DIR` to keep its folders in")
	c.RunE = func(c *cobra.Command, _ []string) error { return demo(c.Context(), dir, stay) }
	return c
}

// demo stands on both sides of the wire, which nothing else here does: it starts a server as serve does, lets devices
// join it as hod does, and has them write two invented days. Only the clock and the people are invented.
func demo(ctx context.Context, dir string, stay bool) error {
	if dir == "" {
		made, err := os.MkdirTemp("", "hod-demo-")
		if err != nil {
			return fmt.Errorf("make a folder for the demo: %w", err)
		}
		defer os.RemoveAll(made)
		dir = made
	} else if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return usage("--data %s holds something already; the demo begins in a folder of its own", dir)
	}
	return runDemo(ctx, os.Stdout, dir, stay)
}

func runDemo(ctx context.Context, out io.Writer, dir string, stay bool) (err error) {
	in, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		return fmt.Errorf("the invented site's time zone: %w", err)
	}
	job, err := sim.Vault(in)
	if err != nil {
		return err
	}
	clock := &inventedClock{}
	clock.set(job.First.Add(5 * time.Hour))
	d := &demoSite{out: out, dir: dir, in: in, job: job, clock: clock}
	log := zerolog.New(os.Stderr).Level(zerolog.WarnLevel)
	if d.site, err = startSite(ctx, settings{
		data: filepath.Join(dir, "server"), site: "aldeira", listen: "127.0.0.1", log: log, now: clock.now,
	}); err != nil {
		return err
	}
	defer func() {
		for _, k := range d.devices {
			k.close()
		}
		err = errors.Join(err, d.site.stop())
	}()
	if err := d.begin(ctx); err != nil {
		return err
	}
	if err := d.work(ctx); err != nil {
		return err
	}
	if err := d.show(ctx); err != nil {
		return err
	}
	return d.end(ctx, stay)
}

// inventedClock stands still between the things that happen, and runs on once they have.
type inventedClock struct {
	at   atomic.Int64
	real atomic.Int64 // when it began to run, by the real one; 0 while it stands
}

func (c *inventedClock) set(t time.Time) { c.at.Store(t.UnixNano()) }

func (c *inventedClock) run() { c.real.Store(time.Now().UnixNano()) }

func (c *inventedClock) now() time.Time {
	t := time.Unix(0, c.at.Load()).UTC()
	if began := c.real.Load(); began != 0 {
		t = t.Add(time.Since(time.Unix(0, began)))
	}
	return t
}

// demoSite is the invented site with its real server and devices.
type demoSite struct {
	out     io.Writer
	dir     string
	in      *time.Location
	job     sim.Job
	clock   *inventedClock
	site    *site
	devices []*demoDevice
}

// demoDevice is one phone.
type demoDevice struct {
	crew    event.Crew
	dir     string
	journal *journal.Journal
	session *remote.Session
	ahead   time.Duration // of its clock
	unsent  int
	out     [2]time.Time // from when to when the network is lost
}

func (d *demoDevice) close() {
	if d.session != nil {
		d.session.Close()
	}
	_ = d.journal.Close() // what it kept is on the disk already
}

func (d *demoSite) say(format string, args ...any) { fmt.Fprintf(d.out, format+"\n", args...) }

// begin lets the foreman and three crews join, and the plan be written.
func (d *demoSite) begin(ctx context.Context) error {
	foreman, err := d.join(ctx, "", firstForeman)
	if err != nil {
		return err
	}
	drafts := make([]event.Event, len(d.job.Plan))
	for i, b := range d.job.Plan {
		drafts[i] = event.Event{Body: b, Typed: true}
	}
	if _, err := foreman.journal.Append(ctx, d.clock.now(), drafts...); err != nil {
		return fmt.Errorf("write the plan: %w", err)
	}
	if err := d.contact(ctx, foreman); err != nil {
		return err
	}
	second := d.job.First.AddDate(0, 0, 1)
	for _, crew := range []event.Crew{"north", "crown", "south"} {
		k, err := d.join(ctx, crew, enrol.Invitation{Role: event.CrewRole, Crew: crew, For: 12 * time.Hour, Uses: 1})
		if err != nil {
			return err
		}
		switch crew {
		case "south":
			k.ahead = 4 * time.Minute
		case "north":
			k.out = [2]time.Time{second.Add(9 * time.Hour), second.Add(15 * time.Hour)}
		}
	}
	d.say("An invented site: Aldeira chapel vault, twelve zones, three crews with a phone each, two days.")
	d.say("Crew south's clock is four minutes fast; crew north has no network from 09:00 to 15:00 on the second day.\n")
	return nil
}

func (d *demoSite) join(ctx context.Context, crew event.Crew, i enrol.Invitation) (*demoDevice, error) {
	code, err := d.site.code(i)
	if err != nil {
		return nil, err
	}
	parsed, err := auth.ParseCode(code.String()) // as the foreman would read it out
	if err != nil {
		return nil, err
	}
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make a device's key: %w", err)
	}
	name := string(crew)
	if name == "" {
		name = "foreman"
	}
	who, err := remote.Join(ctx, parsed, remote.Newcomer{Key: key, Crew: crew, Label: name + "'s phone"})
	if err != nil {
		return nil, fmt.Errorf("join as %s: %w", name, err)
	}
	k := &demoDevice{crew: crew, dir: filepath.Join(d.dir, name)}
	if k.journal, err = journal.Create(k.dir, who); err != nil {
		return nil, err
	}
	d.devices = append(d.devices, k)
	return k, nil
}

// together is how many events a phone lets come together before it takes contact.
const together = 6

// work has the crews write what the invented days hold, each on its own phone.
func (d *demoSite) work(ctx context.Context) error {
	work, err := d.job.Work()
	if err != nil {
		return err
	}
	day := -1
	for _, w := range work {
		if err := ctx.Err(); err != nil {
			return err
		}
		d.clock.set(w.At)
		if n := int(w.At.Sub(d.job.First).Hours()) / 24; n != day {
			day = n
			d.say("Day %d: %s", day+1, w.At.In(d.in).Format("Monday 2 January"))
		}
		k := d.deviceOf(w.Crew)
		mine := w.ByClock(k.ahead)
		if _, err := k.journal.Append(ctx, d.clock.now().Add(k.ahead),
			event.Event{
				HappenedAt: mine.At, Typed: mine.Typed, Person: mine.Person, Basis: event.Carried,
				Body: mine.Body,
			}); err != nil {
			return fmt.Errorf("crew %s writes: %w", w.Crew, err)
		}
		if k.unsent++; k.unsent < together || k.cut(w.At) {
			continue
		}
		if k.unsent > 10*together {
			d.say("  %s  crew %s is back with %d events that nobody else had", w.At.In(d.in).Format("15:04"), k.crew,
				k.unsent)
		}
		if err := d.contact(ctx, k); err != nil {
			return err
		}
	}
	for range 2 { // what the last one brings, the first must fetch
		for _, k := range d.devices {
			if err := d.contact(ctx, k); err != nil {
				return err
			}
		}
	}
	return nil
}

func (d *demoSite) deviceOf(crew event.Crew) *demoDevice {
	for _, k := range d.devices {
		if k.crew == crew {
			return k
		}
	}
	return d.devices[0]
}

func (k *demoDevice) cut(at time.Time) bool { return at.After(k.out[0]) && at.Before(k.out[1]) }

// contact of one phone with the server, over its real line.
func (d *demoSite) contact(ctx context.Context, k *demoDevice) error {
	var err error
	if k.session == nil {
		if k.session, err = remote.Open(ctx, k.journal); err != nil {
			return err
		}
	}
	if _, err = k.session.Contact(ctx,
		sync.Clock{Now: func() time.Time { return d.clock.now().Add(k.ahead) }}); err != nil {
		return fmt.Errorf("contact of %s: %w", k.journal.Device().Name, err)
	}
	k.unsent = 0
	return nil
}

// show the board in the second afternoon's last hour and the day's summary, from the server's log, and that every
// phone has the same.
func (d *demoSite) show(ctx context.Context) error {
	evening := d.job.First.AddDate(0, 0, 1).Add(16*time.Hour + 45*time.Minute)
	page := report.Page{Width: 80, Colour: coloured(d.out), In: d.in}
	var failed error
	d.site.host.View(func(s *fold.Site) {
		board := daily.BoardOf(s.Until(evening), evening, d.in)
		day, err := daily.DayOf(s, evening.Add(8*time.Hour), d.in, evening.Format(time.DateOnly))
		if err != nil {
			failed = err
			return
		}
		d.say("\n$ hod board      # at %s on the second day", evening.Format("15:04"))
		fmt.Fprint(d.out, report.Board(board, page))
		d.say("\n$ hod day")
		fmt.Fprint(d.out, summary.Day(day, page))
	})
	if failed != nil {
		return failed
	}
	return d.same(ctx)
}

// same says that each phone, from its own copy, sees what the server sees.
func (d *demoSite) same(ctx context.Context) error {
	now := d.clock.now()
	var want string
	d.site.host.View(func(s *fold.Site) { want = report.Board(daily.BoardOf(s, now, d.in), report.Page{In: d.in}) })
	for _, k := range d.devices {
		events, err := k.journal.Events(ctx)
		if err != nil {
			return err
		}
		own := fold.New(k.journal.Device().Site, k.journal.Device().Root)
		for _, e := range events {
			own.Add(e)
		}
		if got := report.Board(daily.BoardOf(own, now, d.in), report.Page{In: d.in}); got != want {
			return fmt.Errorf("device %s shows another board than the server", k.journal.Device().Name)
		}
	}
	d.say("\nAll %d devices show, from their own copies, the same board as the server.", len(d.devices))
	return nil
}

// end says how to go on, and goes on if it was asked to.
func (d *demoSite) end(ctx context.Context, stay bool) error {
	if !stay {
		d.say("`hodd demo --stay` keeps it running, to look around with hod and to write more.")
		return nil
	}
	d.clock.run()
	for _, k := range d.devices { // so that each knows how far its clock is from the invented one
		if _, err := k.session.Contact(ctx, sync.Clock{Now: time.Now}); err != nil {
			return fmt.Errorf("contact of %s: %w", k.journal.Device().Name, err)
		}
		k.close()
	}
	foreman, crew := d.devices[0].dir, d.devices[1].dir
	d.devices = nil
	d.say("\nIt runs on until Ctrl-C, from %s on: its phones know how far your clock is from that.",
		d.clock.now().In(d.in).Format("15:04, 2 January 2006"))
	d.say("In another terminal, with go build -o hod ./client/hod:")
	d.say("  export HOD_DIR=%s     # the foreman's phone; crew north's is %s", foreman, crew)
	d.say("  hod board; hod joints; hod flags; hod forecast; hod day; hod log; hod zone show A1")
	d.say("  hod board --server          # the same, asked of the server")
	d.say("  hod link                    # an address for a browser")
	d.say("  HOD_DIR=%s hod batch body --moisture 4%%", crew)
	select {
	case <-ctx.Done():
		return nil
	case err := <-d.site.failed:
		return err
	}
}

func coloured(out io.Writer) bool {
	f, ok := out.(*os.File)
	return ok && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && term.IsTerminal(int(f.Fd()))
}
