package event

import hodv1 "hod/proto/hod/v1"

// StockReceived is material that came.
type StockReceived struct {
	Material Material
	Amount   Amount
	Lot      string // as the delivery note has it
}

func (b StockReceived) check() error {
	return first(
		checkName("material", b.Material),
		b.Amount.check("amount received", deliveredMass, deliveredVolume),
		checkLine("lot", b.Lot),
	)
}

func (b StockReceived) about() about { return about{kind: "stock received", sort: Work, by: Crews} }

func (b StockReceived) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_StockReceived{StockReceived: &hodv1.StockReceived{
		Material: string(b.Material), Amount: b.Amount.proto(), Lot: b.Lot,
	}}}
}

var _ = reads(func(k *hodv1.Body_StockReceived) Body { return stockReceivedOf(k.StockReceived) })

func stockReceivedOf(p *hodv1.StockReceived) StockReceived {
	return StockReceived{Material: Material(p.GetMaterial()), Amount: amountOf(p.GetAmount()), Lot: p.GetLot()}
}
