package host

import (
	"context"
	"time"

	"hod/server/fault"
)

// lookAgain is how often Remake sees whether what it waits for has come.
const lookAgain = 50 * time.Millisecond

// ArchiveSize is how many bytes the archive and what was set aside take.
func (h *Host) ArchiveSize() (int64, error) { return h.folder.Size() }

// Remake has the stream made anew: of what it held, the log is put back from the archive, and what waits for events
// before it or for an enrolment is put back as it is; repeats and what is no part of the log are gone. The stream must
// take nothing meanwhile but what the host puts there; anew removes it and makes another. It returns once the stream
// holds the whole log again, and the Error is of kind Offline where that takes longer than ctx lasts: it goes on by
// itself then.
//
// What was acknowledged is in the archive or waits in memory, and its device holds it, before anything is removed.
func (h *Host) Remake(ctx context.Context, s Stream, anew func(context.Context) error) error {
	if !h.isWhole() {
		return fault.NotYet(h.folder.Site)
	}
	notYet := fault.New(fault.Offline, nil,
		"the stream could not be read to its end in time; nothing was changed, try again")
	if err := wait(ctx, func() (bool, error) {
		state, err := s.State(ctx)
		return err == nil && h.hasRead(state.Last), err
	}); err != nil {
		return notYet
	}
	if err := h.remake(ctx, s, anew); err != nil {
		return err
	}
	if wait(ctx, func() (bool, error) { return h.streamWhole(), nil }) != nil {
		return fault.New(fault.Offline, nil,
			"the stream was made anew and is still being filled from the archive; it goes on by itself")
	}
	return nil
}

// wait until something holds, an error, or the end of ctx.
func wait(ctx context.Context, holds func() (bool, error)) error {
	tick := time.NewTicker(lookAgain)
	defer tick.Stop()
	for {
		if done, err := holds(); done || err != nil {
			return err
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// hasRead reports whether the stream was read to a message.
func (h *Host) hasRead(last uint64) bool {
	h.writing.Lock()
	defer h.writing.Unlock()
	return h.checkpoint.Top.Seq >= last
}

// streamWhole reports whether the stream was read since it was made anew, and holds the whole log.
func (h *Host) streamWhole() bool {
	h.writing.Lock()
	defer h.writing.Unlock()
	return h.checkpoint.Top.Seq > 0 && !h.lacks() && len(h.unsent) == 0
}

// remake removes the stream and puts back what waits. Nothing is taken in meanwhile.
func (h *Host) remake(ctx context.Context, s Stream, anew func(context.Context) error) error {
	h.writing.Lock()
	defer h.writing.Unlock()
	if h.dropped {
		return fault.New(fault.Conflict, nil,
			"more waits in the stream for events before it than this server holds; try again once the devices that have them were in touch, or revoke the device that writes so")
	}
	waiting := append(h.gaps.All(), h.unknown.All()...)
	if err := anew(ctx); err != nil {
		return fault.New(fault.Offline, err, "the stream could not be made anew: %v", err)
	}
	h.forgetStream()
	for _, one := range waiting {
		if err := s.Publish(ctx, h.folder.Root, one.Bytes()); err != nil {
			h.log.Warn().Err(err).Str("device", fault.Quote(one.Before.Device)).Msg(
				"what waits could not be put back into the stream; its device offers it again")
		}
	}
	return nil
}
