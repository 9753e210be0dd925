package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/bus"
	"hod/internal/event"
	"hod/internal/unit"
	"hod/server/admin"
	"hod/server/fault"
	"hod/server/space"
)

const (
	spaceInterval = 2 * time.Second  // between measurements of the space
	spaceReminder = time.Hour        // between lines of the log about space that is near its end or used up
	compactTime   = 10 * time.Minute // that a stream may take to be made anew
	liftedBy      = 1 << 20          // bytes by which a closed stream is opened for what the server itself writes
)

// spaceFlags are the quotas as they were given; 0: as the disk is.
type spaceFlags struct{ stream, archive, reserve int64 }

// check refuses a quota so small that no stream could be kept in it.
func (f spaceFlags) check() error {
	for _, part := range []struct {
		flag string
		size int64
	}{{"--stream-quota", f.stream}, {"--archive-quota", f.archive}} {
		if part.size != 0 && part.size < space.LeastQuota {
			return usage("%s is %s; a quota is %s at the least", part.flag, unit.FormatBytes(part.size),
				unit.FormatBytes(space.LeastQuota))
		}
	}
	return nil
}

// over gives the quotas that were said, and the usual ones for the others.
func (f spaceFlags) over(usual space.Quotas) space.Quotas {
	for _, part := range []struct {
		to    *int64
		given int64
	}{{&usual.Stream, f.stream}, {&usual.Archive, f.archive}, {&usual.Reserve, f.reserve}} {
		if part.given > 0 {
			*part.to = part.given
		}
	}
	return usual
}

// guard measures how much of its disk a server uses, and closes the stream to devices where a quota is reached. What
// the stream has acknowledged by then is taken in as ever.
type guard struct {
	w *site

	looking sync.Mutex // held while one looks, so that the limit that is set is of what was measured last

	// mu guards what follows. Nothing is waited for while it is held: each answer asks for the notice.
	mu      sync.Mutex
	given   spaceFlags
	usual   *space.Quotas // by what the disk was when it was first measured; nil: it was not yet
	quotas  space.Quotas
	used    space.Used
	verdict space.Verdict
	shut    bool      // the stream takes nothing, whatever room there is
	told    time.Time // when the log last heard of it
}

func newGuard(w *site) *guard { return &guard{w: w} }

// begin measures for the first time. The quotas that nobody gave follow from what the disk is; where it cannot be
// measured yet, from what it is when it can.
func (g *guard) begin(ctx context.Context, given spaceFlags) error {
	g.mu.Lock()
	g.given = given
	g.mu.Unlock()
	return g.look(ctx)
}

func (g *guard) measure(ctx context.Context) (u space.Used, err error) {
	state, err := g.w.stream.State(ctx)
	if err != nil {
		return u, err
	}
	if u.Archive, err = g.w.host.ArchiveSize(); err != nil {
		return u, err
	}
	u.Stream, u.Free = state.Bytes, space.Free(g.w.data)
	if read := g.w.host.ReadTo(); state.Last > read {
		u.Behind = int64(min(state.Last-read, 1<<62)) //nolint:gosec // bounded
	}
	return u, nil
}

// look measures, and closes or opens the stream.
func (g *guard) look(ctx context.Context) error {
	g.looking.Lock()
	defer g.looking.Unlock()
	used, err := g.measure(ctx)
	if err != nil {
		return err
	}
	return g.w.stream.limit(ctx, g.judge(used))
}

// judge says how many bytes the stream may hold where so much is used.
func (g *guard) judge(used space.Used) int64 {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.usual == nil {
		usual := space.Usual(used)
		g.usual = &usual
	}
	was := g.verdict
	g.used, g.quotas = used, g.given.over(*g.usual)
	g.verdict = space.Judge(g.quotas, used, was)
	g.tell(was.State)
	if g.shut {
		return 1
	}
	return space.Limit(g.quotas, g.verdict)
}

// setShut has the next look close the stream, or no longer.
func (g *guard) setShut(shut bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.shut = shut
}

// tell the log of a change, and now and then of what does not change. The caller holds mu.
func (g *guard) tell(was space.State) {
	now, v := g.w.host.Now(), g.verdict
	if v.State == was && (v.State == space.Fine || now.Sub(g.told).Abs() < spaceReminder) {
		return
	}
	g.told = now
	line := g.w.log.Info()
	switch v.State {
	case space.Near:
		line = g.w.log.Warn()
	case space.Full:
		line = g.w.log.Error()
	case space.Fine:
		v.Why = []string{"There is room again, and new events are taken."}
	}
	line.Int64("stream", g.used.Stream).Int64("archive", g.used.Archive).Int64("free", g.used.Free).Msg(v.Says())
}

// keep looks until ctx ends.
func (g *guard) keep(ctx context.Context) {
	tick := time.NewTicker(spaceInterval)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if err := g.look(ctx); err != nil && ctx.Err() == nil {
			g.w.log.Debug().Err(err).Msg("how much space is used could not be seen or set; trying again")
		}
	}
}

// notice is what people should know of the space; empty where all is fine.
func (g *guard) notice() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.verdict.Says()
}

func (g *guard) report() admin.Space {
	g.mu.Lock()
	defer g.mu.Unlock()
	return admin.Space{Quotas: g.quotas, Used: g.used, State: g.verdict.State.String(), Why: g.verdict.Why}
}

// order gives more or less space, makes room, and says how it is then.
func (g *guard) order(ctx context.Context, o admin.SpaceOrder) (admin.Space, error) {
	for _, size := range []int64{o.Stream, o.Archive} {
		if size != 0 && size < space.LeastQuota {
			return admin.Space{}, fault.New(fault.Invalid, nil, "a quota is %s at the least",
				unit.FormatBytes(space.LeastQuota))
		}
	}
	g.mu.Lock()
	if o.Stream > 0 {
		g.given.stream = o.Stream
	}
	if o.Archive > 0 {
		g.given.archive = o.Archive
	}
	g.mu.Unlock()
	if err := g.look(ctx); err != nil {
		return admin.Space{}, err
	}
	var before *int64
	if o.Compact {
		held := g.report().Used.Stream
		before = &held
		err := g.compact(ctx)
		if err := errors.Join(err, g.look(context.WithoutCancel(ctx))); err != nil {
			return admin.Space{}, err
		}
	}
	r := g.report()
	r.StreamBefore = before
	return r, nil
}

// compact makes the stream anew. It is closed to devices until then, so that nothing is acknowledged that was not read.
func (g *guard) compact(ctx context.Context) error {
	ctx, stop := context.WithTimeout(ctx, compactTime)
	defer stop()
	g.setShut(true)
	defer g.setShut(false)
	if err := g.look(ctx); err != nil {
		return err
	}
	s := g.w.stream
	return g.w.host.Remake(ctx, s, func(ctx context.Context) error {
		defer g.setShut(false)
		s.lifting.Lock()
		defer s.lifting.Unlock()
		// It was opened for a moment if the server put an event of its own there, and somebody else may have, too.
		state, err := s.Host.State(ctx)
		if err != nil {
			return err
		}
		if state.Last > g.w.host.ReadTo() {
			return errors.New("it holds what was not read yet; try again")
		}
		if err := s.Remove(ctx); err != nil {
			return err
		}
		return s.ensure(ctx)
	})
}

// limit is SetLimit for a stream that nobody lifts meanwhile.
func (r *siteStream) limit(ctx context.Context, most int64) error {
	r.lifting.Lock()
	defer r.lifting.Unlock()
	return r.SetLimit(ctx, most)
}

// Publish puts a segment of the server's own on the stream, or one that it gives back. A stream that is closed to
// devices is opened for it: a revocation must reach them.
func (r *siteStream) Publish(ctx context.Context, carrier event.Device, segment []byte) error {
	err := r.Host.Publish(ctx, carrier, segment)
	var refused *bus.Error
	if !errors.As(err, &refused) || refused.Kind != bus.Full {
		return err
	}
	r.lifting.Lock()
	defer r.lifting.Unlock()
	state, failed := r.Host.State(ctx)
	if failed != nil || state.Limit < 1 {
		return err
	}
	if err := r.SetLimit(ctx, max(state.Limit, state.Bytes+liftedBy)); err != nil {
		return err
	}
	err = r.Host.Publish(ctx, carrier, segment)
	return errors.Join(err, r.SetLimit(context.WithoutCancel(ctx), state.Limit))
}

func newSpace() *cobra.Command {
	var data, stream, archive string
	var order admin.SpaceOrder
	var asJSON bool
	c := &cobra.Command{
		Use: "space", Short: "How much of the disk the record fills, and how to give it more; hodd must run",
		Long: "Where a quota is reached the server takes no new events until there is room: reading, joining and revoking go on, and the devices keep what they write. " +
			"A quota that is given here holds until hodd ends; HODD_STREAM_QUOTA and HODD_ARCHIVE_QUOTA are for good. " +
			"--compact makes the stream anew from the archive; devices that read it next read it from its start.",
		Example: "  hodd space\n  hodd space --stream-quota 20GiB\n  hodd space --compact", Args: noWords,
	}
	f := withEnv(c.Flags())
	f.SortFlags = false
	f.StringVar(&stream, "stream-quota", "", "`SIZE` that the stream may fill from now on")
	f.StringVar(&archive, "archive-quota", "", "`SIZE` that the archive may fill from now on")
	f.BoolVar(&order.Compact, "compact", false, "make the stream anew, without repeats and strangers' messages")
	f.BoolVar(&asJSON, "json", false, "for scripts")
	f.data(&data)
	c.RunE = func(c *cobra.Command, _ []string) error {
		for _, size := range []struct {
			text string
			to   *int64
		}{{stream, &order.Stream}, {archive, &order.Archive}} {
			if size.text == "" {
				continue
			}
			n, err := unit.ParseBytes(size.text)
			if err != nil {
				return usageOf(c, "%v", err)
			}
			*size.to = n
		}
		return showSpace(c.Context(), data, order, asJSON)
	}
	return c
}

// showSpace has the running server say how full it is.
func showSpace(ctx context.Context, data string, o admin.SpaceOrder, asJSON bool) error {
	data, err := dataFolder(data)
	if err != nil {
		return err
	}
	within := orderTime
	if o.Compact {
		within += compactTime
	}
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	operator, err := admin.Dial(data)
	if err != nil {
		return err
	}
	defer operator.Close()
	r, err := operator.Space(ctx, o)
	if err != nil {
		return err
	}
	if asJSON {
		out := json.NewEncoder(os.Stdout)
		out.SetIndent("", "  ")
		return out.Encode(r)
	}
	fmt.Print(spaceText(r))
	return nil
}

func spaceText(r admin.Space) string {
	var b strings.Builder
	if r.StreamBefore != nil {
		fmt.Fprintf(&b, "The stream was made anew: it held %s and holds %s.\n", unit.FormatBytes(*r.StreamBefore),
			unit.FormatBytes(r.Used.Stream))
	}
	fmt.Fprintf(&b, "Stream:  %s of %s\n", unit.FormatBytes(r.Used.Stream), unit.FormatBytes(r.Quotas.Stream))
	fmt.Fprintf(&b, "Archive: %s of %s\n", unit.FormatBytes(r.Used.Archive), unit.FormatBytes(r.Quotas.Archive))
	if r.Used.Free >= 0 {
		fmt.Fprintf(&b, "Disk:    %s free, of which %s stay free\n", unit.FormatBytes(r.Used.Free),
			unit.FormatBytes(r.Quotas.Reserve))
	}
	if len(r.Why) == 0 {
		b.WriteString("New events are taken.\n")
	}
	for _, why := range r.Why {
		b.WriteString(why + "\n")
	}
	return b.String()
}
