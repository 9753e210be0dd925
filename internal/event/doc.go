// Package event is what happens on a site, one thing at a time: batches, placements, weather, plans and their
// corrections, each written by one device and never changed afterwards.
//
// Write checks what is to be said and makes the bytes that are kept, hashed and signed from then on; Read gives back
// what bytes say. Bytes from a disk, a peer or a newer version never cause a panic, and a body of a kind that this
// version does not know is kept as bytes with a nil Body. How events are chained, signed and travel is
// internal/chain's. CompareNames is the order that decides where times are equal.
//
// The package refuses what cannot be, whoever wrote it: a negative amount, an end before its beginning, a number that
// is not one. It says so in a sentence (CannotBe) and never mends or guesses. It does not know other events: whether a
// zone exists, or a batch has that much left, is for the fold. It reads no clock, file, socket or random source.
//
// One file holds one event: its struct, its check, its way to bytes and back. To read on, start at placement.go; to add
// an event, see body.go. What is absurd for a quantity stands in limit.go, who may be called what in names.go.
//
// # Decisions
//
// Correcting is an event. Amended gives a whole new body, of the same kind, for the hash that it names; a voided
// event is not read at all, and an amendment of the void brings it back. Not edits, not deletes, and not patches of
// fields, which two authors could apply in two orders.
//
// Time claimed sorts the coat, not the log. What happened goes by HappenedAt; clock-made times are shifted by the
// offset that the device knew when it wrote, typed ones never (OnSite). Not a logical clock: physics needs minutes.
//
// # The site's words
//
//   - site: one job with one plan and one log; its name on the bus is short and plain
//   - zone: a patch of the shell with a name, an area and neighbours; two zones share an edge of some length
//   - coat: one layer over a zone as planned: outer or inner face, number, thickness, mix
//   - mix: the recipe, with a revision; amounts are for one batch
//   - revision: a form of a mix, by number; a batch carries the number that it was mixed by
//   - corrects: said of a revision: that the one named was wrong from the start, so that its batches are judged by
//     this one
//   - late: written after the day was over that it is of
//   - batch: one load of the mixer, north/2026-07-18/7: crew, day, number; people say 7 or north/7
//   - charge: what went in of one constituent; a batch is its charges
//   - water contact: when water met cement; ages of a batch count from it
//   - unit weight, yield: weight of a known volume; from it, what volume the batch really made
//   - w/cm: all water over cement and pozzolan, by mass; the sand's own water counts
//   - placement: a batch or a part of it put into one coat, perhaps along known edges
//   - joint: where later material meets earlier: inside a coat, along an edge, coat on coat. In the fold a made one is
//     a Contact, an open one a Front
//   - initial set: when fresh mortar no longer knits to what is laid on it; share consumed = how far it has gone there
//   - live, closing, cold: a joint's words: fresh, near its limit, past initial set
//   - equivalent age: hours at a reference temperature that would have done the same
//   - evaporation: water that a fresh bare surface loses, kg/m²/h or lb/ft²/h
//   - cure reading, break: a temperature in a coat; a cube or cylinder crushed
//   - device, seq, event name: a phone with a key; its events count 1, 2, 3; n2/147 is its 147th
//   - head, chain, segment: how far a device's record reaches; the hash over all before; a run of events signed once
//   - carrier: who brought a segment, not who wrote it
//   - root: the server's own device; the enrolments that it signs are where trust begins
//   - finding, flag: what the fold found; the same as a view shows it, open until answered. Findings with one Group
//     are one flag with a line each; an answer names the lines that it covers
//   - set aside: an event that cannot stand now: kept, shown with the reason, stands when what it lacked arrives
//   - fork: two histories under one name, from a copied or restored journal
//   - contact: one meeting of a device with the server, in client/sync; not the fold's Contact
//   - kept here, at the server, backed up: the three places where an event can be
package event
