// Package next computes in which order the cells of a shell are placed so that as few metres of edge as possible go
// cold.
//
// A cell is what one batch fills. An edge between two cells is judged once, when its second side is placed: from the
// water contact of the side begun first to the end of placing of the side begun later, in equivalent age, against the
// initial set of the first side. That is the safe reading: a joint of the log counts to the beginning of placing only,
// so an order computed here is never more hopeful than the log.
//
// Whether an order exists that keeps every edge live is, with one crew and even batches, the bandwidth problem of
// graphs, which is NP-complete (Papadimitriou 1976); so small jobs are solved exactly (exact.go) and large ones by
// candidate orders and a beam search (search.go), and an answer says which it was.
//
// All times are whole minutes, ages whole milliseconds, costs whole numbers: the same job has the same answer on every
// machine, and work is bounded by counts, never by a clock. The package takes numbers and returns numbers; it advises
// nothing about strength, stripping or the soundness of a joint. Start reading at job.go, then shift.go.
package next
