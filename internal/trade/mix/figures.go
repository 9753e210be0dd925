package mix

import (
	"fmt"

	"hod/internal/unit"
)

// Part is one material in a batch with the volume that it fills itself. A sand stands at SSD, its free water apart.
type Part struct {
	Name   string
	Kind   Kind
	Mass   unit.Mass
	Volume unit.Volume // absolute
}

// Figures is what a batch's amounts say of it.
type Figures struct {
	Mass  unit.Mass // of all that was charged
	Parts []Part    // in the order charged, then sprays; their masses sum to Mass and volumes to AirFree
	Water Balance

	AirFree           unit.Volume  // of all constituents without air
	AirFreeUnitWeight unit.Density // theoretical, C138's T
	Air               unit.Share   // of the yield, as given or as the yield given means
	Yield             unit.Volume
	UnitWeight        unit.Density

	Cement, Pozzolan, Cementitious     unit.Mass
	CementContent, CementitiousContent unit.Density // per volume of yield
	WaterCementitious                  float64      // w/cm by mass, all water counted
	PozzolanOfCementitious             unit.Share
	PozzolanOfCement                   unit.Share

	SandSSD          unit.Mass
	SandCementitious float64 // by mass, sand at SSD
	Doses            []Dose
	Fibres           []FibreShare

	Remarks []string // what the figures assume or put in doubt
}

// Figures of the batch with an air content, a share of the volume from 0 to 0.9: yield = air-free volume / (1 − air).
// Source: ACI 211.1 and ASTM C138. It needs cement and water.
func (b Batch) Figures(air unit.Share) (Figures, error) {
	f, err := b.weigh()
	if err != nil {
		return Figures{}, err
	}
	if err := checkAir(air); err != nil {
		return Figures{}, err
	}
	return f.fill(f.AirFree/unit.Volume(1-air), air), nil
}

// FiguresAtYield of the batch with the volume that it was measured or stated to fill; the air is what is left of it.
// Air slightly below 0 is kept and remarked on: some amount, gravity, moisture or measurement is not as written.
func (b Batch) FiguresAtYield(yield unit.Volume) (Figures, error) {
	f, err := b.weigh()
	if err != nil {
		return Figures{}, err
	}
	if err := checkVolume("yield", yield); err != nil {
		return Figures{}, err
	}
	air, err := airOf(yield, f.AirFree)
	if err != nil {
		return Figures{}, err
	}
	if air < 0 {
		f.Remarks = append(f.Remarks, negativeAir(air))
	}
	return f.fill(yield, air), nil
}

// weigh fills all that needs no volume of air.
func (b Batch) weigh() (Figures, error) {
	water, err := b.Balance()
	if err != nil {
		return Figures{}, err
	}
	f := Figures{Water: water}
	add := func(name string, k Kind, m unit.Mass, v unit.Volume) {
		f.Parts = append(f.Parts, Part{name, k, m, v})
		f.Mass += m
		f.AirFree += v
	}
	for _, c := range b.Charges {
		switch c.Kind {
		case Sand:
			s := c.sand()
			add(c.Name, Sand, s.SSD, c.Density().Of(s.SSD))
			if s.Free != 0 {
				add("water in "+c.Name, Water, s.Free, unit.WaterDensity.Of(s.Free))
			}
			f.SandSSD += s.SSD
			if c.Moisture == nil {
				f.Remarks = append(f.Remarks, fmt.Sprintf("moisture of %s is not known: taken at SSD", c.Name))
			} else if *c.Moisture < c.Absorption {
				f.Remarks = append(f.Remarks, fmt.Sprintf("%s was drier than SSD: it takes up %s of the water", c.Name,
					both(-s.Free, unit.System.Mass)))
			}
			continue
		case Cement:
			f.Cement += c.Mass
		case Pozzolan:
			f.Pozzolan += c.Mass
		}
		add(c.Name, c.Kind, c.Mass, c.volume())
	}
	for _, s := range b.Sprays {
		m, _ := s.Mass() // checked by Balance
		add("spray", Water, m, unit.WaterDensity.Of(m))
	}
	if f.Cement < leastMass {
		return Figures{}, fmt.Errorf("no cement was charged; w/cm and the contents need some")
	}
	f.Cementitious = f.Cement + f.Pozzolan
	f.AirFreeUnitWeight = unit.Density(float64(f.Mass) / float64(f.AirFree))
	f.WaterCementitious = float64(water.Total / f.Cementitious)
	f.PozzolanOfCementitious = unit.Share(f.Pozzolan / f.Cementitious)
	f.PozzolanOfCement = unit.Share(f.Pozzolan / f.Cement)
	f.SandCementitious = float64(f.SandSSD / f.Cementitious)
	for _, c := range b.Charges {
		if c.Kind == Admixture {
			f.Doses = append(f.Doses, doseOf(c.Constituent, f.Cementitious))
		}
	}
	return f, nil
}

// fill adds all that a volume decides.
func (f Figures) fill(yield unit.Volume, air unit.Share) Figures {
	f.Yield, f.Air = yield, air
	f.UnitWeight = unit.Density(float64(f.Mass) / float64(yield))
	f.CementContent = unit.Density(float64(f.Cement) / float64(yield))
	f.CementitiousContent = unit.Density(float64(f.Cementitious) / float64(yield))
	for _, p := range f.Parts {
		if p.Kind == Fibre {
			f.Fibres = append(f.Fibres, FibreShare{p.Name, unit.Share(p.Mass / f.Mass), unit.Share(p.Volume / yield)})
		}
	}
	return f
}
