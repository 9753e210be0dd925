package pages

import (
	"context"
	"errors"
	"sync"
	"time"

	"hod/client/journal"
	"hod/client/session"
	"hod/internal/chain"
	"hod/internal/fold"
	"hod/internal/report"
)

// record is this device's journal as the pages ask for it, folded and kept current while other commands write and sync.
type record struct {
	session *session.Session
	mark    journal.Mark

	mu     sync.Mutex
	fold   *fold.Site
	copy   *report.Copy
	heads  []chain.Head
	offset time.Duration // the site's clock less this device's
	number uint64
	more   chan struct{} // closed at the next change
}

// every is how often it is looked whether the journal has grown.
const every = 400 * time.Millisecond

// open the record of a session that was just read.
func open(ctx context.Context, s *session.Session) (*record, error) {
	r := &record{session: s, more: make(chan struct{}), offset: s.ClockOffset()}
	r.copy = copyOf(s.Contact, r.now())
	return r, r.anew(ctx)
}

// anew folds all of the journal.
func (r *record) anew(ctx context.Context) error {
	events, mark, err := r.session.Journal.Since(ctx, journal.Mark{})
	if err != nil {
		return err
	}
	site := fold.New(r.session.Device.Site, r.session.Device.Root)
	for _, e := range events {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		site.Add(e)
	}
	site.Plan()
	heads, err := r.session.Journal.Heads(ctx)
	if err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.mark, r.fold, r.heads = mark, site, heads
	r.told()
	return nil
}

// told that something changed; the caller holds mu.
func (r *record) told() {
	r.number++
	close(r.more)
	r.more = make(chan struct{})
}

// follow the journal until ctx ends.
func (r *record) follow(ctx context.Context) error {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := r.look(ctx); err != nil && ctx.Err() == nil {
			return err
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return nil
		}
	}
}

// look for what came since.
func (r *record) look(ctx context.Context) error {
	events, mark, err := r.session.Journal.Since(ctx, r.mark)
	if errors.Is(err, journal.ErrRewritten) {
		return r.anew(ctx)
	}
	if err != nil {
		return err
	}
	contact, err := r.session.Journal.Contact(ctx)
	if err != nil {
		return err
	}
	heads := r.heads // nobody else writes them
	if len(events) > 0 {
		if heads, err = r.session.Journal.Heads(ctx); err != nil {
			return err
		}
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.heads = heads
	r.session.Contact = contact
	r.offset = r.session.ClockOffset()
	r.mark = mark
	r.copy = copyOf(contact, r.now())
	if len(events) == 0 {
		return nil
	}
	for _, e := range events {
		r.fold.Add(e)
	}
	r.told()
	return nil
}

func copyOf(c journal.Contact, now time.Time) *report.Copy {
	return &report.Copy{Met: !c.At.IsZero(), AsOf: c.Fetched, Age: now.Sub(c.Fetched)}
}

func (r *record) now() time.Time { return r.session.Env.Now().Add(r.offset).UTC() }

// Now is the site's clock, as far as this device knows it.
func (r *record) Now() time.Time {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.now()
}

// View calls look with the folded record.
func (r *record) View(look func(*fold.Site)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	look(r.fold)
}

// Heads are those of all that the journal held when it was last read.
func (r *record) Heads() []chain.Head { return r.heads } // View holds mu

// Place is the site's time zone, or the device's own where the plan names none that is known.
func (r *record) Place(s *fold.Site) *time.Location {
	if zone := s.Plan().TimeZone; zone != "" {
		if in, err := time.LoadLocation(zone); err == nil {
			return in
		}
	}
	return r.session.Env.Local
}

// Latest is the number of the last change.
func (r *record) Latest() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.number
}

// Changed waits for the next change.
func (r *record) Changed(ctx context.Context, after uint64) (uint64, error) {
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

// Copy says how old this device's copy is.
func (r *record) Copy() *report.Copy { return r.copy } // View holds mu
