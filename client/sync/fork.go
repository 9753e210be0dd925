package sync

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
)

// mend brings the histories that the server has accepted into force where this device holds others. found is every
// segment of those devices that the stream holds, of either history.
func (s *session) mend(ctx context.Context, suspects map[event.Device]chain.Head,
	found map[event.Device][]chain.Segment,
) error {
	for _, d := range slices.Sorted(maps.Keys(suspects)) {
		accepted := suspects[d]
		// What was read meanwhile may have brought this device there without more ado.
		if here, ok, err := s.Journal.HeadAt(ctx, d, accepted.Seq); err != nil {
			return err
		} else if ok && here == accepted {
			continue
		}
		take := s.Journal.Follow
		if d == s.own {
			take = s.Journal.Rewrite
		} else if err := s.testify(ctx, d, found[d]); err != nil {
			return err
		}
		done, err := take(ctx, s.Clock.Now(), accepted, found[d]...)
		if errors.Is(err, journal.ErrNoPath) {
			s.out.Forks = append(s.out.Forks, fmt.Sprintf(
				"the server has another history of %q than this device, and the stream does not hold all of it yet: "+
					"nothing was changed here, and events of %q are not sent until a later contact mends it", d, d))
			continue
		} else if err != nil {
			return err
		}
		s.out.Pulled += done.Accepted
		s.out.Forks = append(s.out.Forks, s.mended(d, done))
	}
	return nil
}

// testify publishes what this device holds of another's record and the stream does not, before it takes in the other
// history: the author finds it there and writes it again. Without that, what only a third device still has would be out
// of force for good.
func (s *session) testify(ctx context.Context, d event.Device, found []chain.Segment) error {
	public := map[chain.Head]bool{}
	for _, seg := range found {
		for _, h := range seg.Heads() {
			public[h] = true
		}
	}
	for after := (chain.Head{Device: d}); ; {
		segs, err := s.Journal.Offer(ctx, d, after)
		if err != nil {
			return err
		}
		if len(segs) == 0 {
			return nil
		}
		for _, seg := range segs {
			after = seg.After
			hidden := false
			for _, h := range seg.Heads() {
				hidden = hidden || !public[h]
			}
			if !hidden {
				continue
			}
			if err := s.Line.Publish(ctx, seg.Bytes()); err != nil {
				return fmt.Errorf("send events %s/%d to %d: %w", d, seg.First(), seg.After.Seq, err)
			}
		}
	}
}

// writeAgain writes on top of this device's record what the stream holds under its signature and the record does not,
// once the record is part of what the server has accepted.
func (s *session) writeAgain(ctx context.Context, p plan) error {
	for _, h := range slices.Concat(p.lacking, p.forked) {
		if h.Device == s.own {
			return nil
		}
	}
	written, err := s.Journal.Again(ctx)
	if err != nil || len(written) == 0 {
		return err
	}
	s.out.Forks = append(s.out.Forks,
		fmt.Sprintf("the site's stream held %s under the name of %q that this device's journal does not know, "+
			"since it was restored from a backup, or copied; they stand again from %s on", events(len(written)), s.own,
			written[0].Name))
	return nil
}

func (s *session) mended(d event.Device, done journal.Rewritten) string {
	if d != s.own {
		return fmt.Sprintf(
			"the record of %q had two histories after event %d, since its journal was restored or copied: this device "+
				"took in the one that the server has accepted, and set %s of the other aside",
			d, done.Ancestor.Seq, events(len(done.Superseded)))
	}
	where := "all that was written here is part of it"
	if n := len(done.Again); n > 0 {
		where = fmt.Sprintf("what was written here and it lacks (%s) stands again as %s", events(n), done.Again[0].Name)
		if n > 1 {
			where += fmt.Sprintf(" to %s", done.Again[n-1].Name)
		}
	}
	return fmt.Sprintf(
		"this device's journal was restored from a backup, or copied: after event %d of %q the server has accepted what was not "+
			"known here (%s), which was taken in; %s", done.Ancestor.Seq, d, events(done.Accepted), where)
}

func events(n int) string {
	if n == 1 {
		return "1 event"
	}
	return fmt.Sprintf("%d events", n)
}
