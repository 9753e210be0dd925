package event

import hodv1 "hod/proto/hod/v1"

// BatchDiscarded is a batch, or part of it, thrown away.
type BatchDiscarded struct {
	Batch      Batch
	Part       Part
	Why, Where string
}

func (b BatchDiscarded) check() error {
	return first(b.Batch.check(), b.Part.check(), checkText("reason", b.Why), checkLine("place it went to", b.Where))
}

func (b BatchDiscarded) about() about { return about{kind: "discard", sort: Work, by: Crews} }

func (b BatchDiscarded) batches() []Batch { return []Batch{b.Batch} }

func (b BatchDiscarded) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_BatchDiscarded{BatchDiscarded: &hodv1.BatchDiscarded{
		Batch: b.Batch.proto(), Share: shareProto(b.Part.Share), Volume: volumeProto(b.Part.Volume), Why: b.Why,
		Where: b.Where,
	}}}
}

var _ = reads(func(k *hodv1.Body_BatchDiscarded) Body { return batchDiscardedOf(k.BatchDiscarded) })

func batchDiscardedOf(p *hodv1.BatchDiscarded) BatchDiscarded {
	return BatchDiscarded{
		Batch: batchOf(p.GetBatch()), Part: Part{shareOf(p.GetShare()), volumeOf(p.GetVolume())}, Why: p.GetWhy(),
		Where: p.GetWhere(),
	}
}
