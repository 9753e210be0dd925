package host

import (
	"slices"

	"hod/internal/event"
)

// offered is a segment and where it came from.
type offered struct {
	event.Segment
	streamed bool // it lies in the stream
	archived bool // it lies in the archive
}

// pending holds segments that cannot be taken in yet. It is bounded: what finds no space is offered again by the device
// that has it, since the heads show that it is missing.
type pending struct {
	most, mostEach int // bytes in all, and of one device
	size           int
	streamed       int // how many of them came from the stream: it must then be read again from before them
	sizes          map[event.Device]int
	held           map[event.Device][]offered // by first seq
}

func newPending(most, mostEach int) *pending {
	return &pending{most: most, mostEach: mostEach, sizes: map[event.Device]int{}, held: map[event.Device][]offered{}}
}

// put says whether there was room, or the segment is held already.
func (r *pending) put(o offered) bool {
	d, n := o.Before.Device, len(o.Bytes())
	list := r.held[d]
	i, _ := slices.BinarySearchFunc(list, o, func(a, b offered) int {
		return event.CompareNames(event.Name{Seq: a.First()}, event.Name{Seq: b.First()})
	})
	for k, other := range list[i:] {
		if other.First() != o.First() {
			break
		}
		if other.Before == o.Before && other.After == o.After {
			if o.streamed && !other.streamed {
				list[i+k].streamed = true
				r.streamed++
			}
			return true
		}
	}
	if r.size+n > r.most || r.sizes[d]+n > r.mostEach {
		return false
	}
	r.size += n
	r.sizes[d] += n
	if o.streamed {
		r.streamed++
	}
	r.held[d] = slices.Insert(list, i, o)
	return true
}

// forgetStream is for a stream that is not what it was: what came from it waits on, and need not lie in it any more.
func (r *pending) forgetStream() {
	for _, list := range r.held {
		for i := range list {
			list[i].streamed = false
		}
	}
	r.streamed = 0
}

// release gives up those of a device whose first event follows seq or comes before it.
func (r *pending) release(d event.Device, seq uint64) []offered {
	list := r.held[d]
	n := 0
	for n < len(list) && list[n].Before.Seq <= seq {
		r.size -= len(list[n].Bytes())
		r.sizes[d] -= len(list[n].Bytes())
		if list[n].streamed {
			r.streamed--
		}
		n++
	}
	out := slices.Clone(list[:n])
	if n == len(list) {
		delete(r.held, d)
		delete(r.sizes, d)
	} else if n > 0 {
		r.held[d] = slices.Clone(list[n:])
	}
	return out
}
