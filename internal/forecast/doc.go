// Package forecast says how many batches, how much time and what of tomorrow a job still takes, as distributions that
// all come from the same draws: the figure that holds half the time, those that hold nine times in ten, never a single
// number.
//
// It learns from the finished coats what coats really take (the site's waste and thickness, what one coat takes more or
// less than another, what each mix yields), and of coats under way that they are not finished (coats.go); draws what is
// left (needs.go); learns each crew's pace and day (pace.go) and who places what (lists.go); and plays the rest of the
// job in each draw, batch by batch, over the calendar (work.go). Ahead is the way in, Job what it takes, Answer what it
// gives.
//
// It promises the same bits on every processor (number.go), figures that move only when what they rest on does, since
// the luck of a coat hangs on its name, and intervals that hold as often as they say: TestKeepsItsWord measures it on
// invented jobs, through the real fold and view.
//
// It refuses designs and yields that cannot be, with an error that says what would be right. It reads no clock, keeps
// no state and starts no goroutine.
//
// # Decisions
//
// One mechanism, weighted draws of the rest of the job (bells), gives batches, mixes, finish and tomorrow, so that
// they agree. Their numbers are not random: the luck of a coat is a hash of its name, so a figure moves only when
// what it rests on does. Every product that is added to something is rounded first, so that phone and server agree to
// the last bit; .ci/run lint looks for fused multiply-adds in the arm64 code. Not exact sums: they hold only where
// yields alone scatter. The priors in coats.go and pace.go are choices, and TestKeepsItsWord measures how often the
// stated ranges hold.
//
// Materials are drawn by the batches of each draw in their order (supply.go). Not by a mean batch: the next coats may
// take all of a material and the rest none.
//
// That coats of one zone, or of one crew, go together has a chance beforehand, which the record raises or lowers; where
// they do, a finished coat teaches of its sisters. Not wide both ways until the record shows it: that held 99 % where
// 90 were stated. Nor even odds: at half of a job whose coats do not go together, that held 84 %.
//
// Of a coat's last batch that was placed whole, and whose rest can't have gone into the crew's next coat, anything
// between nothing and all of it stayed (Coat.Doubt). Not all of it: what is thrown away between two mixes, or at the
// end, is seldom written, and the site was taken to place thick.
package forecast
