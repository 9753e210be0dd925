package sim_test

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"time"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/journal"
	contacts "hod/client/sync"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

const (
	site = "quarry-shell"
	root = simtest.Root

	days    = 14
	healing = 15 // rounds of contacts within which all must be equal again
)

var (
	lisbon = must(time.LoadLocation("Europe/Lisbon"))
	first  = time.Date(2031, 5, 12, 0, 0, 0, 0, lisbon)
)

func must[V any](v V, err error) V {
	if err != nil {
		panic(err)
	}
	return v
}

var keyOf = func() func(event.Device) ed25519.PrivateKey {
	var known sync.Map
	return func(d event.Device) ed25519.PrivateKey {
		if k, ok := known.Load(d); ok {
			return k.(ed25519.PrivateKey)
		}
		seed := sha256.Sum256([]byte("a key for simulations of " + d))
		k := ed25519.NewKeyFromSeed(seed[:])
		known.Store(d, k)
		return k
	}
}()

func publicOf(d event.Device) ed25519.PublicKey { return keyOf(d).Public().(ed25519.PublicKey) }

// invented is what all runs have in common: a part of the vault's plan, and a batch to write others after.
var invented = sync.OnceValue(func() (job struct {
	plan  []event.Body
	batch event.BatchMixed
	coats map[event.Crew][]event.Coat
},
) {
	vault := must(sim.Vault(lisbon))
	few := map[event.Zone]bool{"A1": true, "B1": true, "C1": true}
	job.coats = map[event.Crew][]event.Coat{}
	for _, b := range vault.Plan {
		switch b := b.(type) {
		case event.ZonePlanned:
			if !few[b.Zone] {
				continue
			}
		case event.EdgePlanned:
			if !few[b.A] || !few[b.B] {
				continue
			}
		case event.CoatPlanned:
			if !few[b.Coat.Zone] {
				continue
			}
			crew := vault.Of(b.Coat.Zone)
			if len(job.coats[crew]) == 3 {
				continue
			}
			job.coats[crew] = append(job.coats[crew], b.Coat)
		}
		job.plan = append(job.plan, b)
	}
	vault.Days = 1
	for _, w := range must(vault.Work()) {
		if b, ok := w.Body.(event.BatchMixed); ok {
			job.batch = b
			return job
		}
	}
	panic("the invented vault has no batch")
})

// device is a phone, and the people who write on it.
type device struct {
	name   string       // of the phone; a copied one writes under another's name
	writes event.Device // as whom
	crew   event.Crew
	role   event.Role
	newer  bool // its hod knows bodies that this version does not
	record *journal.Journal
	ring   *chain.KeyRing
	backup *journal.Journal
	off    time.Duration // its clock, from the site's
	away   time.Time     // out of touch until then
	sane   saneClock
	joined bool
	load   int // batches that it wrote

	// What its record says, as far as it was read.
	mark  journal.Mark
	site  *fold.Site
	facts map[event.Hash]int
	known []event.Event // that it may correct
	plans map[event.Crew]event.Hash
	bad   []event.Hash
	own   map[event.Hash]bool // that this phone acknowledged and must hold itself
}

// world is a site in one goroutine, without a clock: all chance is drawn from the seed.
type world struct {
	seed    uint64
	r       *rand.Rand
	rotting *rand.Rand
	foe     *foe // nil: nobody means harm
	now     time.Time
	server  *server
	stream  *stream
	slow    []slowMessage
	devices []*device
	revoked map[event.Device]bool
	forked  map[event.Device]bool // restored, copied, or both
	keys    map[event.Device]ed25519.PublicKey
	calm    bool // no more faults
	upAt    time.Time

	// What the judge knows.
	owed   map[event.Hash]claim // facts acknowledged, less those that no disk holds any more
	held   map[event.Hash]int   // how many devices, archives and messages hold a fact
	told   map[event.Device]chain.Head
	banned map[event.Hash]string // facts that must not stand, and why
	read   map[event.Hash][]event.Hash
	truth  map[event.Hash]time.Time // when a fact was written whose device knew how far its clock was off
	out    map[event.Hash]bool      // facts of forked devices that only revoked ones held
	quiet  bool                     // nothing moved in this round of contacts

	trace hash.Hash
	log   []string
	tally tally
}

// claim is an event as its device said that it was kept.
type claim struct {
	by   event.Device
	name event.Name
	body event.Body
}

type failure string

func (f failure) Error() string { return string(f) }

func (w *world) fail(format string, args ...any) { panic(failure(fmt.Sprintf(format, args...))) }

func (w *world) say(format string, args ...any) {
	s := fmt.Sprintf("%s  %s", w.now.In(lisbon).Format("Jan 02 15:04"), fmt.Sprintf(format, args...))
	w.log = append(w.log, s)
	w.trace.Write([]byte(s + "\n"))
}

// run one seed and give the hash of its trace.
func run(seed uint64, scratch string) (trace string, log []string, t tally, err error) {
	w := &world{
		seed: seed, r: rand.New(rand.NewPCG(seed, 0x686f64)), rotting: rand.New(rand.NewPCG(seed, 0x726f74)),
		now: first, trace: sha256.New(),
		revoked: map[event.Device]bool{}, forked: map[event.Device]bool{}, keys: map[event.Device]ed25519.PublicKey{},
		owed: map[event.Hash]claim{}, held: map[event.Hash]int{}, told: map[event.Device]chain.Head{},
		banned: map[event.Hash]string{}, read: map[event.Hash][]event.Hash{},
		truth: map[event.Hash]time.Time{}, out: map[event.Hash]bool{},
	}
	w.foe = newFoe(seed)
	w.stream = &stream{w: w}
	w.server = &server{w: w, dir: must(os.MkdirTemp(scratch, "site-"))}
	defer func() {
		if p := recover(); p != nil {
			f, ok := p.(failure)
			if !ok {
				panic(p)
			}
			err = f
		}
		if w.server.host != nil {
			err = errors.Join(err, w.server.host.Close())
		}
		for _, d := range w.devices {
			err = errors.Join(err, d.record.Close())
			if d.backup != nil {
				err = errors.Join(err, d.backup.Close())
			}
		}
		err = errors.Join(err, os.RemoveAll(w.server.dir))
		trace, log, t = fmt.Sprintf("%x", w.trace.Sum(nil)), w.log, w.tally
	}()
	w.tally.Seeds = 1
	w.begin()
	all := append(w.schedule(), w.harm()...)
	slices.SortStableFunc(all, func(a, b action) int { return a.at.Compare(b.at) })
	for _, a := range all {
		w.now = a.at
		if !w.upAt.IsZero() && w.now.After(w.upAt) {
			w.upAt = time.Time{}
			w.up()
		}
		w.deliver(false)
		a.do()
		w.check()
	}
	w.heal()
	w.judge()
	return
}

// begin enrols the devices and has the foreman write the plan.
func (w *world) begin() {
	w.server.found()
	w.server.open()
	w.now = first.Add(5 * time.Hour)
	w.serve()
	add := func(name event.Device, crew event.Crew, role event.Role) *device {
		d := &device{name: string(name), writes: name, crew: crew, role: role}
		d.record = must(journal.InMemory(journal.Device{
			Site: site, Name: name, Crew: crew, Role: role, Key: keyOf(name), Root: root, RootKey: publicOf(root),
		}))
		w.keys[name] = publicOf(name)
		w.devices = append(w.devices, d)
		d.restart()
		d.off = time.Duration(w.r.Int64N(int64(3*time.Minute))) - 90*time.Second
		return d
	}
	w.keys[root] = publicOf(root)
	foreman := add("f1", "office", event.Foreman)
	add("i1", "", event.Inspector)
	add("p1", "", event.Probe)
	for _, crew := range []event.Crew{"north", "crown", "south"} {
		for i := range 3 {
			add(event.Device(fmt.Sprintf("%s%d", crew[:1], i+1)), crew, event.CrewRole).newer = i == 2
		}
	}
	late := 3 + w.r.IntN(len(w.devices)-3) // one of a crew joins in the course of the job
	for i, d := range w.devices {
		if i != late {
			w.enrol(d)
		}
	}
	for _, b := range invented().plan {
		w.append(foreman, event.Event{Body: b})
	}
	w.meet(foreman, cut{in: -1})
}

// enrol a device at the server, which writes that down.
func (w *world) enrol(d *device) {
	d.joined = true
	w.record(event.DeviceEnrolled{
		Device: d.writes, PublicKey: publicOf(d.writes), Role: d.role, Crew: d.crew,
		Label: "phone",
	})
}

// restart is what a process does first: it reads its record.
func (d *device) restart() {
	d.ring = d.record.Device().KeyRing(must(d.record.Events(context.Background())))
}

// append drafts to a device's record, as a person does who writes.
func (w *world) append(d *device, drafts ...event.Event) {
	written, err := d.record.Append(context.Background(), w.now.Add(d.off), drafts...)
	if err != nil {
		w.fail("%s cannot write: %v", d.name, err)
	}
	knew := (must(d.record.Contact(context.Background())).Offset + d.off).Abs() < time.Second
	knew = knew || w.foe != nil && d.sane == saneClock{true, d.off}
	for _, e := range written {
		w.mine(d, e)
		if knew && !e.Typed {
			w.truth[e.Hash()] = w.now
		}
		w.say("%s writes %s, %s %s", d.name, e.Name, event.KindOf(e.Body), e.Hash().String()[:6])
	}
	w.refresh(d)
}

// mine is an event that this phone said is kept.
func (w *world) mine(d *device, e event.Event) {
	w.acknowledge(d.writes, e)
	if d.own == nil {
		d.own = map[event.Hash]bool{}
	}
	d.own[e.Hash()] = true
}

func (w *world) acknowledge(by event.Device, e event.Event) {
	if _, ok := w.owed[e.Origin()]; !ok {
		w.owed[e.Origin()] = claim{by, e.Name, e.Body}
		w.tally.Events++
	}
}

// newerBody has a device write what a newer hod knows and this one does not.
func (w *world) newerBody(d *device) {
	ctx := context.Background()
	before := must(d.record.Head(ctx, d.writes))
	p := &hodv1.Event{
		Device: string(d.writes), Seq: before.Seq + 1, Crew: string(d.crew),
		HappenedAt: timestamppb.New(w.now.Add(d.off).Truncate(time.Millisecond)), Body: &hodv1.Body{},
	}
	p.Body.ProtoReflect().SetUnknown(protowire.AppendBytes(protowire.AppendTag(nil, 900, protowire.BytesType),
		fmt.Appendf(nil, "news %d", w.r.Uint64())))
	e := must(event.Read(must(proto.MarshalOptions{Deterministic: true}.Marshal(p))))
	must(d.record.Keep(ctx, must(chain.Sign(keyOf(d.writes), site, before, []event.Event{e}))))
	w.mine(d, e)
	w.say("%s writes %s, which only a newer hod reads", d.name, e.Name)
	w.refresh(d)
}

// work writes down what a person on this device would.
func (w *world) work(d *device) {
	if !d.joined || w.revoked[d.writes] && w.r.IntN(3) > 0 {
		return
	}
	if w.r.IntN(40) == 0 { // the disk of the device is full: the person is told, and nothing is owed
		w.tally.DiskErrors++
		return
	}
	at := w.now.Add(d.off)
	switch d.role {
	case event.Inspector:
		if w.r.IntN(12) == 0 {
			w.illegal(d, "an inspector writes nothing", event.Noted{Text: "looks thin to me"})
		}
		return
	case event.Probe:
		if coats := invented().coats["north"]; w.r.IntN(2) == 0 {
			w.append(d, event.Event{Typed: true, Body: event.CureReadings{
				Probe: "p1", Coat: coats[0],
				Samples: []event.Reading{
					{At: w.now.Add(-time.Hour), Temperature: 18}, {At: w.now, Temperature: 19.5},
				},
			}})
		}
		return
	}
	switch n := w.r.IntN(100); {
	case d.newer && n < 20:
		w.newerBody(d)
	case n < 22:
		w.append(d, event.Event{Body: event.Noted{Text: fmt.Sprintf("note %d of %s", w.tally.Events, d.name)}})
	case n < 40 && len(d.known) > 0:
		w.append(d, event.Event{Body: w.correction(d.known[w.r.IntN(len(d.known))])})
		w.tally.Corrections++
	case n < 44:
		t := unit.Celsius(12 + w.r.IntN(14))
		w.append(d, event.Event{Body: event.WeatherObserved{
			Station: "hand",
			Samples: []event.Weather{{At: at, Air: &t}},
		}})
	case d.role == event.Foreman:
		w.plan(d)
	case n < 46:
		w.illegal(d, "only a foreman plans", event.CrewPlanned{Crew: d.crew, People: 99})
	case n < 48:
		w.illegal(d, "only the server enrols", event.DeviceEnrolled{
			Device: "x9", PublicKey: publicOf("x9"),
			Role: event.Foreman, Label: "x",
		})
	case n < 50:
		b := invented().batch
		b.Batch = event.Batch{Crew: "others", Day: "2031-05-12", Number: 1}
		w.illegal(d, "a crew writes its own batches", b)
	case n < 84:
		w.append(d, event.Event{Body: w.rest(d)})
	default:
		w.batch(d, at)
	}
}

// rest of what people write.
func (w *world) rest(d *device) event.Body {
	coat := invented().coats[d.crew][0]
	switch w.r.IntN(5) {
	case 0:
		return event.ShiftStarted{People: 3 + w.r.IntN(4)}
	case 1:
		return event.ShiftEnded{}
	case 2:
		return event.StockCounted{Material: "cement", Amount: event.Amount{Mass: unit.Mass(100 + w.r.IntN(900))}}
	case 3:
		return event.SurfaceTended{Zone: coat.Zone, Tending: event.Covered, With: "wet burlap"}
	default:
		return event.JointTreated{Coat: coat, Method: "wire-brushed, wetted"}
	}
}

func (w *world) illegal(d *device, why string, b event.Body) {
	e := must(d.record.Append(context.Background(), w.now.Add(d.off), event.Event{Body: b}))[0]
	w.banned[e.Hash()] = why
	w.mine(d, e) // it is kept and passed on all the same
	w.tally.Illegal++
	w.say("%s writes %s, though %s", d.name, e.Name, why)
	w.refresh(d)
}

// batch and where it went. Two devices of a crew number theirs apart, mostly.
func (w *world) batch(d *device, at time.Time) {
	d.load++
	number := slices.Index(w.devices, d)*40 + d.load%40 + 1
	if w.r.IntN(25) == 0 {
		number = 1
	}
	coats := invented().coats[d.crew]
	b := invented().batch
	b.Batch = event.Batch{Crew: d.crew, Day: at.In(lisbon).Format(time.DateOnly), Number: number}
	b.MixedFrom, b.WaterAt, b.MixedTo = at.Add(-20*time.Minute), at.Add(-17*time.Minute), at.Add(-9*time.Minute)
	w.append(d, event.Event{Body: b}, event.Event{Body: event.Placement{
		Batch: b.Batch, Coat: coats[w.r.IntN(len(coats))], From: at.Add(-6 * time.Minute), To: at,
	}})
}

// correction of an event, or of a correction.
func (w *world) correction(e event.Event) event.Body {
	target := e.Hash()
	if !e.StandsFor.IsZero() && w.r.IntN(2) == 0 {
		target = e.StandsFor
	}
	if w.r.IntN(4) == 0 {
		return event.Voided{Target: target, Why: "written on the wrong page"}
	}
	body := e.Body
	if b, ok := body.(event.Amended); ok {
		body = b.Body
	}
	switch b := body.(type) {
	case event.Noted:
		b.Text = fmt.Sprintf("better %d", w.r.IntN(1000))
		body = b
	case event.BatchMixed:
		b.Temperature = &unit.As[unit.Celsius]{SI: unit.Celsius(15 + w.r.IntN(12))}
		body = b
	case event.Placement:
		share := unit.As[unit.Share]{SI: unit.Share(10+w.r.IntN(80)) / 100}
		b.Part = event.Part{Share: &share}
		body = b
	}
	return event.Amended{Target: target, Body: body, Why: "read again"}
}

// plan anew what the foreman knows of.
func (w *world) plan(d *device) {
	crew := []event.Crew{"north", "crown", "south"}[w.r.IntN(3)]
	b := event.CrewPlanned{Crew: crew, Name: "crew " + string(crew), People: 3 + w.r.IntN(6)}
	if h, ok := d.plans[crew]; ok {
		b.Replaces = []event.Hash{h}
	}
	w.append(d, event.Event{Body: b})
	w.tally.Plans++
}

// meet lets a device be in touch with the server, once.
func (w *world) meet(d *device, at cut) {
	c := &contact{Journal: d.record, w: w, d: d, cut: at}
	if !w.calm && w.r.IntN(20) == 0 {
		c.lag = 1 + w.r.IntN(20)
	}
	w.tally.Contacts++
	before := 0
	if w.foe != nil {
		before = w.foe.read
	}
	out, err := contacts.Contact{
		Journal: c, Line: line{c}, Ring: d.ring,
		Clock: contacts.Clock{Now: func() time.Time { return w.now.Add(d.off) }},
		Pause: func(context.Context, time.Duration) error { return nil },
	}.Once(context.Background())
	w.say("%s in touch: %d in, %d out, %d unconfirmed, %d waiting, again from the start %v, forks %q, refused %q; %v",
		d.name, out.Pulled, out.Pushed, out.Unconfirmed, out.Waiting, out.Reread, out.Forks, out.Refused, err)
	if err != nil {
		if !errors.Is(err, errCut) && !errors.Is(err, errFull) && !errors.Is(err, errRefused) &&
			!errors.Is(err, errDown) {
			w.fail("%s in touch: %v", d.name, err)
		}
		d.restart() // the process is gone, and with it what the ring had learned and the record has not
	}
	w.bounded(d, before)
	w.tally.Forks += len(out.Forks)
	if out.Reread {
		w.tally.Rereads++
	}
	w.refresh(d)
	if err == nil && !w.revoked[d.writes] {
		w.atServer(d)
	}
	w.quiet = w.quiet && out.Pulled == 0 && out.Pushed == 0 && len(out.Forks) == 0
}

// revoke a device, whose people may not know of it yet.
func (w *world) revoke(name event.Device) {
	if w.server.host == nil || w.revoked[name] || len(w.revoked) > 1 {
		return
	}
	w.serve()
	for w.server.host.Revoke(name, "lost on the way home") != nil {
		if _, ok := w.server.host.Member(name); !ok {
			return // the server has lost its enrolment
		}
		w.brokenDisk()
		w.serve()
	}
	w.revoked[name] = true
	w.tally.Revocations++
	w.say("%s is revoked", name)
	w.server.look()
}
