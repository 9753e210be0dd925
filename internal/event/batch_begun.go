package event

import (
	"time"

	hodv1 "hod/proto/hod/v1"
)

// BatchBegun is a batch that is being mixed: what is in the mixer, before BatchMixed says what went in.
type BatchBegun struct {
	Batch Batch
	Mix   Mix       // empty: not said
	Ready time.Time // when it is expected to be ready; zero: not said
}

func (b BatchBegun) check() error {
	return first(b.Batch.check(), checkMaybeName("mix", b.Mix), checkTime("the batch being ready", b.Ready))
}

func (b BatchBegun) about() about { return about{kind: "batch begun", sort: Work, by: Crews} }

func (b BatchBegun) batches() []Batch { return []Batch{b.Batch} }

func (b BatchBegun) owner() Crew { return b.Batch.Crew }

func (b BatchBegun) shifted(to func(time.Time) time.Time) Body {
	b.Ready = to(b.Ready)
	return b
}

func (b BatchBegun) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_BatchBegun{BatchBegun: &hodv1.BatchBegun{
		Batch: b.Batch.proto(), Mix: string(b.Mix), ReadyAt: stamp(b.Ready),
	}}}
}

var _ = reads(func(k *hodv1.Body_BatchBegun) Body { return batchBegunOf(k.BatchBegun) })

func batchBegunOf(p *hodv1.BatchBegun) BatchBegun {
	return BatchBegun{Batch: batchOf(p.GetBatch()), Mix: Mix(p.GetMix()), Ready: instant(p.GetReadyAt())}
}
