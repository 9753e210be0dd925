package event

import hodv1 "hod/proto/hod/v1"

// StockCounted is how much of a material there is.
type StockCounted struct {
	Material Material
	Amount   Amount
}

func (b StockCounted) check() error {
	return first(checkName("material", b.Material), b.Amount.check("amount counted", countedMass, countedVolume))
}

func (b StockCounted) about() about { return about{kind: "stock counted", sort: Work, by: Crews} }

func (b StockCounted) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_StockCounted{StockCounted: &hodv1.StockCounted{
		Material: string(b.Material), Amount: b.Amount.proto(),
	}}}
}

var _ = reads(func(k *hodv1.Body_StockCounted) Body { return stockCountedOf(k.StockCounted) })

func stockCountedOf(p *hodv1.StockCounted) StockCounted {
	return StockCounted{Material: Material(p.GetMaterial()), Amount: amountOf(p.GetAmount())}
}
