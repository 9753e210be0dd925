package event

import (
	"fmt"

	"google.golang.org/protobuf/proto"

	hodv1 "hod/proto/hod/v1"
)

// Again is the same event at another seq of its device's record, after a fork, naming the one that it stands for. It
// works on the bytes, so that a body from a newer version comes through; the times and the clock's offset stay, since
// they tell of when it was first written.
func (e Event) Again(seq uint64) (Event, error) {
	var p hodv1.Event
	if err := (proto.UnmarshalOptions{RecursionLimit: 32}).Unmarshal(e.raw, &p); err != nil {
		return Event{}, fmt.Errorf("write event %s again: %w", e.Name, err)
	}
	p.Seq, p.StandsFor = seq, hashBytes(e.Origin())
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(&p)
	if err != nil {
		return Event{}, fmt.Errorf("write event %s again: %w", e.Name, err)
	}
	fresh, err := Read(raw)
	if err != nil {
		return Event{}, fmt.Errorf("write event %s again: %w", e.Name, err)
	}
	return fresh, nil
}
