package chain

import (
	"cmp"
	"maps"
	"slices"

	"hod/internal/event"
)

// Pending holds segments that cannot be taken in yet: events before them are missing, or nobody has enrolled their
// device. It is bounded: what finds no space is offered again by the device that has it, since the heads show that it
// is missing.
type Pending struct {
	most, mostEach int // bytes in all, and of one device
	size           int
	sizes          map[event.Device]int
	held           map[event.Device][]Marked // Invariant: by first seq
}

// Marked is a segment and what its reader knows of it.
type Marked struct {
	Segment
	Marks Marks
}

// Marks are bits with a meaning of the reader's own.
type Marks uint8

// Has reports whether a mark is set.
func (m Marks) Has(one Marks) bool { return m&one != 0 }

// NewPending returns an empty one that holds so many bytes at most, in all and of one device.
func NewPending(most, mostEach int) *Pending {
	return &Pending{most: most, mostEach: mostEach, sizes: map[event.Device]int{}, held: map[event.Device][]Marked{}}
}

// Put reports whether there was space, or the segment is held already. One that is put again has the marks of both.
func (p *Pending) Put(s Marked) bool {
	d, n := s.Before.Device, len(s.Bytes())
	list := p.held[d]
	i, _ := slices.BinarySearchFunc(list, s.First(), func(a Marked, first uint64) int {
		return cmp.Compare(a.First(), first)
	})
	for k := i; k < len(list) && list[k].First() == s.First(); k++ {
		if other := &list[k]; other.Before == s.Before && other.After == s.After {
			other.Marks |= s.Marks
			return true
		}
	}
	if p.size+n > p.most || p.sizes[d]+n > p.mostEach {
		return false
	}
	p.size += n
	p.sizes[d] += n
	p.held[d] = slices.Insert(list, i, s)
	return true
}

// Release gives up those of a device whose first event follows seq or comes before it.
func (p *Pending) Release(d event.Device, seq uint64) []Marked {
	list := p.held[d]
	n := 0
	for n < len(list) && list[n].Before.Seq <= seq {
		p.size -= len(list[n].Bytes())
		p.sizes[d] -= len(list[n].Bytes())
		n++
	}
	out := slices.Clone(list[:n])
	if n == len(list) {
		delete(p.held, d)
		delete(p.sizes, d)
	} else if n > 0 {
		p.held[d] = slices.Clone(list[n:])
	}
	return out
}

// Unmark takes a mark from each segment.
func (p *Pending) Unmark(one Marks) {
	for _, list := range p.held {
		for i := range list {
			list[i].Marks &^= one
		}
	}
}

// Any reports whether there is one with a mark.
func (p *Pending) Any(one Marks) bool {
	for _, list := range p.held {
		if slices.ContainsFunc(list, func(s Marked) bool { return s.Marks.Has(one) }) {
			return true
		}
	}
	return false
}

// Len is how many segments it holds.
func (p *Pending) Len() int {
	n := 0
	for _, list := range p.held {
		n += len(list)
	}
	return n
}

// Settle tries each of a queue, in order, and those that wait once more, as long as that gets another one settled: each
// may be what the next waits for. It gives those that still wait.
func Settle[T any](queue []T, try func(T) (waits bool, err error)) ([]T, error) {
	for {
		var waiting []T
		for _, one := range queue {
			waits, err := try(one)
			if err != nil {
				return nil, err
			}
			if waits {
				waiting = append(waiting, one)
			}
		}
		if len(waiting) == 0 || len(waiting) == len(queue) {
			return waiting, nil
		}
		queue = waiting
	}
}

// All are those that wait, by device.
func (p *Pending) All() (all []Marked) {
	for _, d := range slices.Sorted(maps.Keys(p.held)) {
		all = append(all, p.held[d]...)
	}
	return all
}
