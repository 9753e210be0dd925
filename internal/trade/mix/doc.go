// Package mix computes what a mortar is made of: amounts for any size of batch, the water that is really in it, its
// weight, volume and proportions, whether a batch was charged as its mix asks, and how warm it will be.
//
// A Mix is a design: masses for one batch with the sand saturated and surface-dry (SSD). A Batch is what went into the
// mixer: masses as weighed, each sand with the moisture that it had. Both give the same Figures, by the same
// arithmetic. Every water is counted: added, free in the sand, in admixtures and foam, sprayed. Volumes are absolute
// volumes, from specific gravity and unit.WaterDensity, the one density of water used here.
//
// The package promises that masses close (sand and free water weigh what was weighed) and that no function returns NaN
// or an infinity: a mass, share or temperature that cannot be is an error that says what would be right, and a figure
// that stands on an assumption carries a remark. It refuses to guess: no default gravity, absorption or dose is filled
// in for one that is missing. It says nothing about strength, and permits nothing: that is for the responsible
// engineer.
//
// To read on: Constituent and Mix say what is kept, Batch.Figures what comes of it; SandFromSSD and its neighbours
// correct for moisture; Weighing.Judge holds a batch against the standards' tolerances; Heat.Temperature is by the
// equation of ACI 305R and 306R. Published check values stand in testdata/trade/mix.csv.
package mix
