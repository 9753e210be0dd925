package bus

import (
	"context"
	"time"

	"github.com/nats-io/nats.go"
	"google.golang.org/protobuf/proto"

	"hod/internal/chain"
	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
)

// Heads is how far the site's log reaches, and what its clock said.
type Heads struct {
	Heads     []chain.Head  // flushed to the site's archive
	BackedUp  []chain.Head  // in its last backup; empty also when the answer had no room for it
	Now       time.Time     // the site's clock when it answered
	RoundTrip time.Duration // how long the question and its answer took, by this device's clock
	Notice    string        // what people should know of the server, in sentences; may be empty
}

// Heads asks the site how far its log reaches.
func (l *Line) Heads(ctx context.Context) (Heads, error) {
	request, err := proto.Marshal(&hodv1.HeadsRequest{Device: string(l.device)})
	if err != nil {
		return Heads{}, fail(Internal, err, "could not ask the site %s for its heads", l.site)
	}
	asked := time.Now()
	m, err := l.ask(ctx, "say how far its record reaches", HeadsSubject(l.site), request)
	took := time.Since(asked)
	if err != nil {
		return Heads{}, err
	}
	h, err := readHeads(m.Data)
	if err != nil {
		return Heads{}, fail(Internal, err,
			"the site %s said how far its record reaches in words that this hod cannot read", l.site)
	}
	if why := m.Header.Get(refusal); why != "" {
		return Heads{}, fail(Internal, nil,
			"the site %s cannot say how far its record reaches: it has more devices than one answer holds", l.site)
	}
	h.RoundTrip = took
	return h, nil
}

// refusal is the header of an answer that is none.
const refusal = "Hod-Refused"

func readHeads(raw []byte) (Heads, error) {
	var p hodv1.HeadsReply
	if err := (proto.UnmarshalOptions{RecursionLimit: 32}).Unmarshal(raw, &p); err != nil {
		return Heads{}, err
	}
	h := Heads{Now: time.UnixMilli(p.GetNowMs()).UTC(), Notice: p.GetNotice()}
	var err error
	if h.Heads, err = headsOf(p.GetHeads()); err != nil {
		return Heads{}, err
	}
	h.BackedUp, err = headsOf(p.GetBackedUp())
	return h, err
}

func headsOf(in []*hodv1.Head) ([]chain.Head, error) {
	var out []chain.Head
	for _, p := range in {
		if err := CheckDevice(event.Device(p.GetDevice())); err != nil {
			return nil, err
		}
		if len(p.GetChain()) != len(chain.Hash{}) {
			return nil, fail(Internal, nil, "the head of %s has a chain of %d bytes, not %d", p.GetDevice(),
				len(p.GetChain()), len(chain.Hash{}))
		}
		out = append(out, chain.Head{
			Device: event.Device(p.GetDevice()), Seq: p.GetSeq(),
			Chain: chain.Hash(p.GetChain()),
		})
	}
	return out, nil
}

// answer is the reply that carries heads, without the backed up ones if they do not fit, and a refusal if nothing does.
func answer(h Heads) (*nats.Msg, error) {
	p := &hodv1.HeadsReply{
		NowMs: h.Now.UnixMilli(), Heads: headsProto(h.Heads), BackedUp: headsProto(h.BackedUp),
		Notice: h.Notice,
	}
	if proto.Size(p) > MaxPayload {
		p.BackedUp = nil
	}
	if proto.Size(p) > MaxPayload {
		return &nats.Msg{Header: nats.Header{refusal: []string{"too many heads"}}}, nil
	}
	raw, err := proto.Marshal(p)
	return &nats.Msg{Data: raw}, err
}

func headsProto(in []chain.Head) []*hodv1.Head {
	var out []*hodv1.Head
	for _, h := range in {
		out = append(out, &hodv1.Head{Device: string(h.Device), Seq: h.Seq, Chain: h.Chain[:]})
	}
	return out
}
