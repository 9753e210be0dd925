// Package bench measures what an answer costs on a large record, as people meet it: whole processes of hod and hodd
// over a journal, a stream and an archive that were filled the way a site fills them.
//
// It holds tests alone. The sites are invented once, in a cache folder outside the tree, and used again on the same
// day:
//
//	go test -run '^$' -bench Table ./internal/bench                       # 10,000 and 100,000 events
//	go test -run '^$' -bench Table ./internal/bench -events 1000000       # or as many as are said
//
// Its figures, with date and machine, are in deploy/performance.md. What is counted and not timed, on the same sites,
// is TestALateEventThawsWhatItConcernsAndNothingElse in internal/fold.
package bench
