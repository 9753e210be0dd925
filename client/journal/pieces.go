package journal

import (
	"context"
	"database/sql"
	"encoding/json"

	"hod/internal/chain"
	"hod/internal/event"
)

// Span is consecutive events of one device.
type Span struct {
	Device   event.Device
	From, To uint64
}

// Except gives all that counts, as Counted has it, but what lies in spans, which must be in order, and how far the
// record of each device reaches. It reads nothing of what it leaves out. False where the record does not go through the
// heads of then, so that whatever was learned of the spans holds no more.
func (j *Journal) Except(ctx context.Context, then []chain.Head, spans []Span) (events []event.Event, now []chain.Head,
	ok bool, err error,
) {
	var kept []row
	err = j.read(ctx, func(q *sql.Conn) error {
		kept, now = nil, nil
		if ok, err = j.goesThrough(ctx, q, then); err != nil || !ok {
			return err
		}
		but, err := j.excluded(ctx, q)
		if err != nil {
			return err
		}
		devices, err := j.devices(ctx, q)
		if err != nil {
			return err
		}
		for _, d := range devices {
			head, err := j.headOf(ctx, q, d)
			if err != nil {
				return err
			}
			now = append(now, head)
			last := head.Seq // that counts
			if from, some := but[string(d)]; some {
				last = min(last, uint64(from)-1)
			}
			rest := []Span{}
			from := uint64(1)
			for _, s := range spans {
				if s.Device != d {
					continue
				}
				if s.To > last { // what is in it was excluded since
					ok = false
					return nil
				}
				if s.From > from {
					rest = append(rest, Span{d, from, s.From - 1})
				}
				from = s.To + 1
			}
			if last >= from {
				rest = append(rest, Span{d, from, last})
			}
			if kept, err = j.pieces(ctx, q, d, rest, kept); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil || !ok {
		return nil, nil, false, err
	}
	events, err = j.decode(ctx, kept)
	return events, now, err == nil, err
}

// In gives what lies in spans. ErrRewritten where the record does not go through the heads of then.
func (j *Journal) In(ctx context.Context, then []chain.Head, spans []Span) ([]event.Event, error) {
	var kept []row
	err := j.read(ctx, func(q *sql.Conn) error {
		kept = nil
		if ok, err := j.goesThrough(ctx, q, then); err != nil {
			return err
		} else if !ok {
			return ErrRewritten
		}
		for len(spans) > 0 {
			n := 1
			for n < len(spans) && spans[n].Device == spans[0].Device {
				n++
			}
			var err error
			if kept, err = j.pieces(ctx, q, spans[0].Device, spans[:n], kept); err != nil {
				return err
			}
			spans = spans[n:]
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return j.decode(ctx, kept)
}

// goesThrough says whether heads are part of what is in force.
func (j *Journal) goesThrough(ctx context.Context, q *sql.Conn, heads []chain.Head) (bool, error) {
	for _, h := range heads {
		if here, held, err := j.headAt(ctx, q, h.Device, h.Seq); err != nil || !held || here != h {
			return false, err
		}
	}
	return true, nil
}

// pieces reads spans of one device's events, in one question, with the chain before each.
func (j *Journal) pieces(ctx context.Context, q *sql.Conn, d event.Device, spans []Span, into []row) ([]row, error) {
	if len(spans) == 0 {
		return into, nil
	}
	bounds := make([][2]uint64, len(spans))
	for i, s := range spans { // the event before each tells the chain
		bounds[i] = [2]uint64{s.From - 1, s.To}
	}
	text, err := json.Marshal(bounds)
	if err != nil {
		return nil, err
	}
	found, err := j.ask(ctx, q, `
		select e.mark, e.seq, e.chain, e.raw from json_each(?) s
		cross join event e on e.device = ? and e.seq between s.value ->> 0 and s.value ->> 1`, string(text), string(d))
	if err != nil {
		return nil, err
	}
	defer found.Close()
	root := j.root(d)
	before, at, next := root.Chain[:], 0, spans[0].From
	if next > 1 {
		next--
	}
	for found.Next() {
		r := row{device: string(d)}
		if err := j.scan(found, &r.mark, &r.seq, &r.chain, &r.raw); err != nil {
			return nil, err
		}
		if at == len(spans) || uint64(r.seq) != next {
			return nil, j.damaged("the events of %q before %d are missing", r.device, r.seq)
		}
		if next >= spans[at].From {
			r.before = before
			into = append(into, r)
		}
		before = r.chain
		if next++; next > spans[at].To {
			if at++; at < len(spans) {
				next = spans[at].From - 1
			}
		}
	}
	if err := found.Err(); err != nil {
		return nil, err
	}
	if at < len(spans) {
		return nil, j.damaged("the events of %q from %d are missing", d, next)
	}
	return into, nil
}
