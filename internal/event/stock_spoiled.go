package event

import hodv1 "hod/proto/hod/v1"

// StockSpoiled is material that can no longer be used.
type StockSpoiled struct {
	Material Material
	Amount   Amount
	Lot, Why string
}

func (b StockSpoiled) check() error {
	return first(
		checkName("material", b.Material),
		b.Amount.check("amount spoiled", deliveredMass, deliveredVolume),
		checkLine("lot", b.Lot),
		checkText("reason", b.Why),
	)
}

func (b StockSpoiled) about() about { return about{kind: "stock spoiled", sort: Work, by: Crews} }

func (b StockSpoiled) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_StockSpoiled{StockSpoiled: &hodv1.StockSpoiled{
		Material: string(b.Material), Amount: b.Amount.proto(), Lot: b.Lot, Why: b.Why,
	}}}
}

var _ = reads(func(k *hodv1.Body_StockSpoiled) Body { return stockSpoiledOf(k.StockSpoiled) })

func stockSpoiledOf(p *hodv1.StockSpoiled) StockSpoiled {
	return StockSpoiled{
		Material: Material(p.GetMaterial()), Amount: amountOf(p.GetAmount()), Lot: p.GetLot(),
		Why: p.GetWhy(),
	}
}
