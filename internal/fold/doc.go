// Package fold turns a site's events into what they say: its plan, batches, zones, joints, stock, and what needs a
// person to look at it.
//
// The same set of events gives the same Site, whatever order they came in and however often. An event that cannot stand
// is set aside with a reason, never refused: it stands again by itself when what it lacked arrives. A late event costs
// what its own batch and zone cost, not the whole record. No I/O, no clock; an instant is an argument.
//
// A Site answers one caller at a time, reading included: it computes what is stale when it is asked. To follow one
// event start at Add, in package history; to add a body start at kinds.go.
//
// What a site holds is worked out in rooms, each on the one below and told of by none above: history (which events
// count), planned, mixed, placed, joint, judge. A Site is the topmost: it knows what each kind of event concerns, keeps
// the stock, and answers.
//
// # Decisions
//
// Each with what was not done instead; what holds in detail is said in the file.
//
//   - The fold is lazy by entity: a late event marks its batch and zone stale (invalidate). Not a snapshot replayed
//     from a point: late events are the rule.
//   - What is asked is computed and no more: a plan without its batches, batches without zones, zones without what is
//     judged of them (index.go, and Judged in package judge). Not all of it for each question: most commands look at a
//     day's work.
//   - Readings of probes that nothing sets apart may be held packed, in place of their events (packed): a few bytes
//     each, where nine of ten events of a large site are such readings. What their reading hangs on is in a digest,
//     and whatever might set one apart has the events fetched. Not a snapshot of what is computed: a correction needs
//     the events.
//   - Rights are judged here (history/standing.go), and at the bus only who may carry. Not at the server's entrance
//     alone: a log from elsewhere must be judged the same. A probe uses the bus like any device and is kept to
//     readings here. Not an entrance of its own: to write one's own record safely takes reading it back.
//   - Tips (history/correction.go): corrections and plans form chains by hash, and the tip holds. Two tips that say
//     different things are a dispute: both are kept, the one logged later is used until a foreman's event.Settled
//     names what holds and what it holds over. Not last-writer-wins for good: that would go by whose watch was fast.
//   - A plan is slots (event.ThingOf: site, zone A3, coat A3 outer 1 ...), each replaced by a body that names in
//     Replaces what it knew. Not one plan document with versions: two foremen who change two zones have no conflict.
//   - What was done is judged by the plan that was true of it (planned/history.go), what is left by the plan of now.
//     Not the plan of now for all, which turned old cold joints live. A plan written anew holds from then on; a plan
//     that is amended, and a revision that corrects another, were wrong from the start, move what rests on them, and
//     are listed with what they moved (view/moved.go).
//   - What a fork had written again is one event (history/again.go): a correction, settlement or plan that names its
//     first writing means the writing that stands, and of several only the earliest counts. Not a rewriting of what
//     names it: those events are signed, and some are other people's.
//   - What cannot have happened in that order is set aside (mixed/order.go): placed before it was mixed, placed half a
//     day after its water, broken before its age. Not a flag: the volume would stand in the wrong place.
//   - A clock that was set between two contacts leaves open when: the flag clock-set names the events that this
//     concerns and nothing is shifted (judge/clock.go).
//   - A batch that was not weighed has its design volume, from its own charges, times the ratio that the mix's weighed
//     batches showed, with the design as prior (mixed/yield.go, forecast.YieldsOf: what the forecast goes by, too).
//     Not the design alone: a mixer's air is not the designer's, and every zone would be off the same way.
//   - A coat is finished by what people say or do (placed/finish.go): closed by the foreman, said to be all complete,
//     covered, or left by its crews for another batch elsewhere. The last word since the last placement decides;
//     without one, a cover or going on counts from two thirds of the volume needed (enough), since crews cover
//     half-filled coats for the night and go to and fro to keep edges live. Mortar after that opens it again. Not a
//     share of the plan: a coat 10 % thin would never close, one 10 % thick would be done while mortar still goes in.
//   - An edge stays open where only going on closed its coat and the coat holds less than the plan needs (takesMore):
//     the crew may come back. Not the state alone: a countdown would vanish from the board.
//   - A joint is a range until the record says what lies along the edge: cold only if its best case is, closing as
//     soon as its worst may be. Not the nearest placement in time, which would be a guess shown as a fact.
//   - Working days that the plan does not name are guessed (calendar.go) from the days with batches, and the view says
//     so; runs of four days and more without one are a standstill and no evidence, so that working days always come.
//   - Stock is drawn as weighed, sand damp (stock.go); what mixes design saturated and surface dry is converted by the
//     moisture last recorded. Not dry sand: the pile, the delivery and the count are damp.
//   - A cover ends when something is placed on its face (placed/cover.go), written off or not: nobody places through
//     one. One rule for drying, rain, moist curing, the board and the zone. Not the last word written, which left
//     fresh mortar covered by last night's burlap.
//   - A reading of the weather counts until the next full one, for two hours at most (FullCounts), for the board and
//     for the flags alike. Not its instant alone: mortar placed ten minutes after a hot reading dries as fast.
//   - A reason is asked for by the finding: Finding.Asks names the events that brought it about, and Because comes
//     from those events. Not a list of questions beside the rules that judge.
//   - The material's temperature is that of a probe in its coat, each reading within an hour, else the batch's
//     temperature relaxing to the air with a time constant from thickness and film coefficients (placed/warmth.go); the
//     source is shown. Not the air alone, nor the batch's temperature held.
package fold
