//go:build unix

package journal

import (
	"crypto/ed25519"
	"flag"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
)

var rounds = flag.Int("rounds", 0, "how many power cuts, kills and damages the long form tries; 0 is the short form")

// promise is what the journal said was kept, and when: after so many operations of the disk.
type promise struct {
	after int
	says  string
}

// worked is a device that was written to while its disk was watched.
type worked struct {
	*recorder
	key      ed25519.PrivateKey
	made     int // operations after which the record was there for good
	promises []promise
}

// work makes a record and writes to it as a device does: its own events, others', contacts, now and then anew in
// another process. pragma stands for what a careless program would set.
func work(t *testing.T, steps int, seed uint64, pragma string) worked {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "hod")
	w := worked{recorder: watch(t, dir), key: keyOf("n2")}
	random := rand.New(rand.NewPCG(seed, 1))
	j, err := Create(dir, deviceNamed("n2"))
	if err != nil {
		t.Fatal(err)
	}
	// Create flushes the folder itself, which SQLite does not see.
	w.add(op{kind: opSyncDir})
	w.made = w.now()
	other := inMemory(t, "n3")
	set := func() {
		// A log that is taken over after a few pages, so that this happens often.
		for _, p := range []string{`pragma wal_autocheckpoint = 12`, pragma} {
			if _, err := j.conn.ExecContext(t.Context(), p); err != nil {
				t.Fatal(err)
			}
		}
	}
	set()
	for i := range steps {
		var kept []string
		switch random.IntN(8) {
		default:
			var drafts []event.Event
			for n := range 2 * (1 + random.IntN(2)) { // always in pairs
				drafts = append(drafts, note(fmt.Sprint(i, ".", n, strings.Repeat("x", random.IntN(3000)))))
			}
			written, err := j.Append(t.Context(), noon, drafts...)
			if err != nil {
				t.Fatal(err)
			}
			kept = said(written)
		case 0, 1:
			written := appendNotes(t, other, fmt.Sprint("theirs ", i), fmt.Sprint("theirs too ", i))
			segs, err := other.Offer(t.Context(), "n3", chain.Head{
				Device: "n3", Seq: written[0].Seq - 1,
				Chain: chainBefore(t, other, written[0]),
			})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := j.Keep(t.Context(), segs...); err != nil {
				t.Fatal(err)
			}
			kept = said(written)
		case 2:
			if err := j.SetContact(t.Context(),
				Contact{At: noon, Offset: time.Second, Position: Position{Seq: uint64(i)}}); err != nil {
				t.Fatal(err)
			}
		case 3:
			if err := j.Close(); err != nil {
				t.Fatal(err)
			}
			if j, err = Open(dir); err != nil {
				t.Fatal(err)
			}
			set()
		}
		for _, s := range kept {
			w.promises = append(w.promises, promise{w.now(), s})
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return w
}

func chainBefore(t *testing.T, j *Journal, e event.Event) chain.Hash {
	t.Helper()
	h, ok, err := j.HeadAt(t.Context(), e.Device, e.Seq-1)
	if err != nil || !ok {
		t.Fatalf("the head before %s: %v", e.Name, err)
	}
	return h.Chain
}

// found is what a power cut left.
type found struct {
	promised, lost int
	wrong          []string // beside what was lost
}

// cut the power after n operations, and look with the ordinary code at what is there.
func (w worked) cut(t *testing.T, n int, how tear, random *rand.Rand) (f found) {
	t.Helper()
	dir := t.TempDir()
	if err := w.after(n, how, random, dir); err != nil {
		t.Fatal(err)
	}
	if err := writeKey(dir, w.key); err != nil {
		t.Fatal(err)
	}
	want := map[string]bool{}
	for _, p := range w.promises {
		if p.after <= n {
			want[p.says] = true
		}
	}
	f.promised = len(want)
	j, err := Open(dir)
	if err != nil {
		if n >= w.made {
			f.wrong = append(f.wrong, fmt.Sprintf("it does not open: %v", err))
			f.lost = len(want)
		}
		return f
	}
	defer j.Close()
	v, err := j.Verify(t.Context())
	if err != nil {
		f.wrong = append(f.wrong, fmt.Sprintf("it cannot be verified: %v", err))
	}
	f.wrong = append(f.wrong, v.Faults...)
	events, err := j.Events(t.Context())
	if err != nil {
		f.wrong, f.lost = append(f.wrong, fmt.Sprintf("it cannot be read: %v", err)), len(want)
		return f
	}
	held := said(events)
	for _, s := range held {
		delete(want, s)
	}
	f.lost = len(want)
	own := slices.DeleteFunc(held, func(s string) bool { return !strings.HasPrefix(s, "n2/") })
	if len(own)%2 != 0 {
		f.wrong = append(f.wrong, fmt.Sprintf("%d events of its own: half a transaction is there", len(own)))
	}
	written, err := j.Append(t.Context(), noon, note("after the cut"))
	if err != nil {
		f.wrong = append(f.wrong, fmt.Sprintf("it takes no more: %v", err))
	} else if got, want := written[0].Seq, uint64(len(own)+1); got != want {
		f.wrong = append(f.wrong, fmt.Sprintf("the next event is the %d., not the %d.", got, want))
	}
	return f
}

// The power goes after any operation of the disk, and of what was not flushed some is there, some is not, some is half
// there: what the journal said was kept is kept, each transaction is whole or not there, and the record can be written
// on.
func TestPowerCutLosesNothingThatWasSaidToBeKept(t *testing.T) {
	short, cuts, steps := 4, 60, 60
	if testing.Short() {
		short, cuts, steps = 3, 10, 30
	}
	if *rounds > 0 {
		cuts, steps = *rounds, 200
	}
	tried, promised, lost := 0, 0, 0
	try := func(w worked, n int, how tear, random *rand.Rand) {
		t.Helper()
		f := w.cut(t, n, how, random)
		tried, promised, lost = tried+1, promised+f.promised, lost+f.lost
		if f.lost > 0 || len(f.wrong) > 0 {
			t.Errorf("the power goes after operation %d of %d, %s: %d of %d events lost; %q", n, len(w.ops), how,
				f.lost, f.promised, f.wrong)
		}
	}
	every := work(t, short, 1, `pragma synchronous`)
	random := rand.New(rand.NewPCG(2, 2))
	for n := range len(every.ops) + 1 {
		for how := range tears {
			try(every, n, how, random)
		}
	}
	for seed := range uint64(4) {
		w := work(t, steps, 10+seed, `pragma synchronous`)
		for range (cuts + 3) / 4 {
			try(w, w.made+random.IntN(len(w.ops)-w.made+1), tear(random.IntN(int(tears))), random)
		}
		t.Logf("seed %d: %s", 10+seed, w.recorder)
	}
	t.Logf("%d power cuts, %d events promised, %d lost", tried, promised, lost)
	if promised < tried {
		t.Errorf("only %d events were promised in %d cuts; the test does not hit", promised, tried)
	}
}

// The same with flushing off: if the test found nothing lost then, it would find nothing ever.
func TestPowerCutIsNoticedWhereNothingIsFlushed(t *testing.T) {
	w := work(t, 30, 20, `pragma synchronous = off`)
	random := rand.New(rand.NewPCG(3, 3))
	tried, lost, hurt := 0, 0, 0
	for how := range tears {
		for range 10 {
			f := w.cut(t, w.made+random.IntN(len(w.ops)-w.made+1), how, random)
			tried++
			if f.lost > 0 {
				lost++
			}
			if len(f.wrong) > 0 {
				hurt++
			}
			if how == keepAll && (f.lost > 0 || len(f.wrong) > 0) {
				t.Errorf("nothing was lost by the disk, yet %d events are, %q", f.lost, f.wrong)
			}
		}
	}
	if lost < tried/4 {
		t.Errorf("without a flush, only %d of %d power cuts lost anything; the test does not bite", lost, tried)
	}
	t.Logf("without a flush, %d of %d power cuts lost events that were said to be kept; %d left the file damaged", lost,
		tried, hurt)
}
