// Package stock keeps the ledger of one material on the site: what came, what was counted, what spoiled, what the
// batches took, and so what is there at any instant.
//
// The same entries give the same ledger in whatever order they are handed in. A count sets the balance as of its time
// and shows by how much the book was off. More used than the book holds is shown as a ledger that is short, never cut
// to zero and never dropped: somebody forgot to write down a delivery. All amounts are masses; whoever has a volume
// brings a density. No I/O, no clock, no state. To read on, start at Keep.
//
// What the stock means for the job (how many batches it makes, on which day it runs out) is in package forecast.
package stock
