package host

import (
	"fmt"
	"slices"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

// take adds messages of the stream to the log, in order: it judges each, archives what is new with one flush, and folds
// it. The caller holds writing.
func (h *Host) take(messages []bus.Message) error {
	if len(messages) == 0 {
		return nil
	}
	offers := make([]chain.Marked, 0, len(messages))
	var last position
	for _, m := range messages {
		last = h.checkpoint.read(m)
		s, err := chain.ReadSegment(m.Data)
		if err != nil {
			h.odd.Warn().Err(err).Uint64("message", m.Seq).Str("carrier",
				string(m.Carrier)).Msg("a message of the stream is no segment")
			continue
		}
		offers = append(offers, chain.Marked{Segment: s, Marks: inStream})
	}
	if err := h.admit(offers); err != nil {
		return err
	}
	h.unsaved = true
	h.readTo.Store(h.checkpoint.Top.Seq)
	if !h.gaps.Any(inStream) && !h.unknown.Any(inStream) && !h.dropped {
		h.checkpoint.settle(last)
	}
	return h.writeOrphans()
}

// Marks say where a segment that is offered to the log lies already.
const (
	inStream  chain.Marks = 1 << iota // it lies in the stream
	inArchive                         // it lies in the archive
)

// admitted is a segment that was accepted, with those of its events that are new to the log.
type admitted struct {
	chain.Marked
	tail []event.Event
}

// admit judges the segments that are offered and the pending ones that they free, archives what was accepted, then
// folds it. The caller holds writing.
//
// Invariant: nothing is folded, and no head is told, before the flush of the archive has returned.
func (h *Host) admit(offers []chain.Marked) error {
	if h.broken != nil {
		return h.broken
	}
	var in []admitted
	for _, o := range offers {
		in = h.judge(o, in)
	}
	var raw [][]byte
	for _, a := range in {
		if !a.Marks.Has(inArchive) {
			raw = append(raw, a.Bytes())
		}
	}
	if err := h.folder.Append(raw...); err != nil {
		// The log in memory is ahead of the disk now: nothing more may be told or taken.
		h.broken = err
		return err
	}
	if len(in) == 0 {
		return nil
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, a := range in {
		h.fold(a.tail)
	}
	h.setHeads()
	return nil
}

// judge judges one segment, and those that were pending until it came.
func (h *Host) judge(first chain.Marked, in []admitted) []admitted {
	queue := []chain.Marked{first}
	for len(queue) > 0 {
		o := queue[0]
		queue = queue[1:]
		d := o.Before.Device
		v, tail := h.chains.Take(o.Segment, nil)
		switch v {
		case chain.Accepted:
			in = append(in, admitted{o, tail})
			for _, e := range tail {
				if b, ok := e.Body.(event.DeviceEnrolled); ok {
					queue = append(queue, h.unknown.Release(b.Device, ^uint64(0))...)
				}
			}
			queue = append(queue, h.gaps.Release(d, h.chains.Reach(d).Seq)...)
		case chain.Gap:
			h.wait(h.gaps, o)
		case chain.NotEnrolled:
			h.wait(h.unknown, o)
		case chain.Fork:
			h.setAside(o.Segment)
		case chain.BadSignature, chain.WrongSite:
			h.odd.Warn().Str("device", fault.Quote(d)).Uint64("first", o.First()).Stringer("verdict",
				v).Msg("refused a segment")
		case chain.Duplicate:
		}
		if o.Marks.Has(inStream) && (v == chain.Accepted || v == chain.Duplicate) {
			h.checkpoint.saw(d, o.First(), o.After.Seq)
			if h.scrubbing != nil {
				h.scrubbing.saw(d, o.First(), o.After.Seq)
			}
		}
	}
	return in
}

func (h *Host) wait(p *chain.Pending, o chain.Marked) {
	if p.Put(o) {
		return
	}
	h.dropped = h.dropped || o.Marks.Has(inStream)
	h.odd.Warn().Str("device", fault.Quote(o.Before.Device)).Uint64("first",
		o.First()).Msg("too much waits for what is missing; it must be offered again")
}

func (h *Host) setAside(s chain.Segment) {
	if s.Before.Device == h.folder.Root {
		h.orphans = append(h.orphans, s.Events...)
	}
	isNew, err := h.folder.SetAside(s)
	switch {
	case err != nil:
		h.odd.Error().Err(err).Str("device",
			string(s.Before.Device)).Msg("a segment that contradicts the record could not be set aside")
	case isNew:
		h.log.Error().Str("device", string(s.Before.Device)).Uint64("first", s.First()).Uint64("last", s.After.Seq).
			Msg("a device wrote two histories: it was copied or restored; the first one stands, the other is set aside")
	}
}

// writeOrphans writes on top of the server's own log what it once wrote and no longer holds: its folder was restored
// from a backup, or lost, and it wrote on before the devices brought back what they had of it. An enrolment or a
// revocation must not be lost by that. It waits until the stream was read to its end, which may hold more of the
// log. The caller holds writing.
func (h *Host) writeOrphans() error {
	wrote := false
	for len(h.orphans) > 0 && h.isWhole() {
		orphans := slices.DeleteFunc(h.orphans, func(e event.Event) bool { return h.own[e.Origin()] })
		h.orphans = nil // what is written closes gaps, behind which more of them may wait
		if len(orphans) == 0 {
			break
		}
		if err := h.writeAgain(orphans); err != nil {
			return err
		}
		wrote = true
	}
	if wrote {
		select {
		case h.wake <- struct{}{}:
		default:
		}
	}
	return nil
}

// writeAgain writes events of the server's own on top of its log, each naming the one that it stands for.
func (h *Host) writeAgain(orphans []event.Event) error {
	if err := h.NewTag(); err != nil {
		return err
	}
	slices.SortStableFunc(orphans, func(a, b event.Event) int { return event.CompareNames(a.Name, b.Name) })
	for _, e := range orphans {
		if h.own[e.Origin()] {
			continue
		}
		before := h.chains.Reach(h.folder.Root)
		fresh, err := e.Again(before.Seq + 1)
		if err != nil {
			return err
		}
		s, err := chain.Sign(h.folder.Key, h.folder.Site, before, []event.Event{fresh})
		if err != nil {
			return fmt.Errorf("sign event %s: %w", fresh.Name, err)
		}
		if err := h.admit([]chain.Marked{{Segment: s}}); err != nil {
			return err
		}
		h.unsaved = true
		h.unsent = append(h.unsent, s)
		h.log.Warn().Str("was", e.Name.String()).Str("is", fresh.Name.String()).
			Msg(
				"the server's record was restored or lost and then went on; what it had written before stands again on top")
	}
	return nil
}

// write an event of the server's own: signed, archived and flushed when write returns, and on its way to the stream.
// The caller has seen that the stream was read to its end, since what it held of the server's own must be known first.
func (h *Host) write(body event.Body) (event.Event, error) {
	h.writing.Lock()
	defer h.writing.Unlock()
	before := h.chains.Reach(h.folder.Root)
	now := h.now()
	e, err := event.Write(event.Event{
		Name: event.Name{Device: h.folder.Root, Seq: before.Seq + 1}, HappenedAt: now, LoggedAt: now, Body: body,
	})
	if err != nil {
		return event.Event{}, fault.OfEvent(err)
	}
	s, err := chain.Sign(h.folder.Key, h.folder.Site, before, []event.Event{e})
	if err != nil {
		return event.Event{}, fmt.Errorf("sign event %s: %w", e.Name, err)
	}
	if err := h.admit([]chain.Marked{{Segment: s}}); err != nil {
		return event.Event{}, err
	}
	if h.chains.Reach(h.folder.Root) != s.After {
		return event.Event{}, fmt.Errorf("event %s was not taken in", e.Name)
	}
	h.unsaved = true
	h.unsent = append(h.unsent, s)
	select {
	case h.wake <- struct{}{}:
	default: // it is on its way already
	}
	return e, nil
}

// Append writes an event of the server's own to the log: an enrolment, readings of probes, a weather forecast. It is
// flushed to the archive when Append returns. The Error is of kind Offline while the stream was not read to its end
// yet.
func (h *Host) Append(body event.Body) (event.Event, error) {
	if !h.isWhole() {
		return event.Event{}, fault.NotYet(h.folder.Site)
	}
	return h.write(body)
}

func (h *Host) isWhole() bool {
	select {
	case <-h.whole:
		return true
	default:
		return false
	}
}

// sent removes segments from those that are not known to lie in the stream. The caller holds writing.
func (h *Host) sent(segments []chain.Segment) {
	h.unsent = slices.DeleteFunc(h.unsent, func(u chain.Segment) bool {
		return slices.ContainsFunc(segments, func(s chain.Segment) bool { return s.After == u.After })
	})
}

// lacks reports whether the stream, as far as it was read, does not hold all of the log, apart from what is on its
// way there. The caller holds writing.
func (h *Host) lacks() bool {
	for _, head := range h.chains.Heads() {
		d, last := head.Device, head.Seq
		if d == h.folder.Root && len(h.unsent) > 0 {
			last = min(last, h.unsent[0].Before.Seq)
		}
		if last > 0 && !h.checkpoint.has(d, 1, last) {
			return true
		}
	}
	return false
}

// lacksSegment reports whether a segment is part of the log, and neither in the stream nor on its way there.
func (h *Host) lacksSegment(s chain.Segment) bool {
	h.writing.Lock()
	defer h.writing.Unlock()
	return h.chains.Has(s) && !h.checkpoint.has(s.Before.Device, s.First(), s.After.Seq) &&
		!slices.ContainsFunc(h.unsent, func(u chain.Segment) bool { return u.After == s.After })
}

// forgetStream forgets what is known of the stream, but nothing of the log. The caller holds writing.
func (h *Host) forgetStream() {
	h.checkpoint, h.dropped, h.unsaved = checkpoint{}, false, true
	h.gaps.Unmark(inStream)
	h.unknown.Unmark(inStream)
}
