package host

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/anishathalye/porcupine"

	"hod/internal/event"
	"hod/server/enrol"
	"hod/server/fault"
)

// What is promised of joining is that it is linearizable: whatever happens at once, it is as if it had happened in some
// order, one thing after the other, and in that order each code lets in as many keys as it says and no name is given
// twice. A history of calls and answers is checked for that against the model below by the method of Wing and Gong
// (1993) with Lowe's refinement (2017), as the porcupine package has it.

// asked is what one goroutine did.
type joinAsked struct {
	what string // "join", "revoke", "look"
	code int
	key  int
	name event.Device // to revoke
}

// joinAnswer is what it heard.
type joinAnswer struct {
	name    event.Device // as which it was let in, or is known
	revoked bool
	refused bool
}

// uses of the three codes.
var codeUses = [3]int{1, 1, 4}

func joinModel() porcupine.Model {
	type taken map[int]int // key to code
	type state struct {
		taken   taken
		names   map[int]event.Device
		revoked map[event.Device]bool
	}
	clone := func(s state) state {
		return state{maps.Clone(s.taken), maps.Clone(s.names), maps.Clone(s.revoked)}
	}
	return porcupine.Model{
		Init: func() any { return state{taken{}, map[int]event.Device{}, map[event.Device]bool{}} },
		Equal: func(a, b any) bool {
			x, y := a.(state), b.(state)
			return maps.Equal(x.taken, y.taken) && maps.Equal(x.names, y.names) && maps.Equal(x.revoked, y.revoked)
		},
		Step: func(was, in, out any) (bool, any) {
			s, q, a := was.(state), in.(joinAsked), out.(joinAnswer)
			switch q.what {
			case "look":
				name := s.names[q.key]
				return a.name == name && a.revoked == s.revoked[name], s
			case "revoke":
				known := false
				for _, n := range s.names {
					known = known || n == q.name
				}
				if !known || s.revoked[q.name] {
					return a.refused, s
				}
				s = clone(s)
				s.revoked[q.name] = true
				return !a.refused, s
			}
			name, member := s.names[q.key]
			code, took := s.taken[q.key]
			switch {
			case member && s.revoked[name]:
				return a.refused, s
			case took && code == q.code: // the answer was lost, and is asked for again
				return !a.refused && a.name == name, s
			case member:
				return a.refused, s
			}
			used := 0
			for _, c := range s.taken {
				if c == q.code {
					used++
				}
			}
			if used >= codeUses[q.code] {
				return a.refused, s
			}
			for _, n := range s.names {
				if n == a.name {
					return false, s // a name is never given twice
				}
			}
			s = clone(s)
			s.taken[q.key], s.names[q.key] = q.code, a.name
			return !a.refused && a.name != "", s
		},
		DescribeOperation: func(in, out any) string { return fmt.Sprintf("%+v -> %+v", in, out) },
	}
}

func TestJoiningIsLinearizable(t *testing.T) {
	rounds := 40
	if testing.Short() {
		rounds = 8
	}
	total := 0
	for round := range rounds {
		site := start(t, t.TempDir(), newStream())
		h := site.Host
		<-h.Whole()
		var secrets [3]string
		for i, uses := range codeUses {
			s, err := h.Invite(enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: uses})
			if err != nil {
				t.Fatal(err)
			}
			secrets[i] = s.String()
		}
		keys := make([]ed25519.PrivateKey, 6)
		for i := range keys {
			keys[i] = newKey(t)
		}
		var clock atomic.Int64
		var mu sync.Mutex
		var history []porcupine.Operation
		var all sync.WaitGroup
		for who := range 6 {
			r := rand.New(rand.NewPCG(uint64(round), uint64(who)))
			all.Go(func() {
				for range 8 {
					q := joinAsked{what: "join", code: r.IntN(3), key: r.IntN(len(keys))}
					switch r.IntN(8) {
					case 0:
						q = joinAsked{what: "revoke", name: event.Device(fmt.Sprint("n", 1+r.IntN(6)))}
					case 1, 2:
						q = joinAsked{what: "look", key: r.IntN(len(keys))}
					}
					began := clock.Add(1)
					a, err := ask(t, h, q, secrets, keys)
					if err != nil {
						t.Errorf("%+v: %v", q, err)
						return
					}
					ended := clock.Add(1)
					mu.Lock()
					history = append(history, porcupine.Operation{
						ClientId: who, Input: q, Call: began, Output: a,
						Return: ended,
					})
					mu.Unlock()
				}
			})
		}
		all.Wait()
		total += len(history)
		if !porcupine.CheckOperations(joinModel(), history) {
			for _, op := range history {
				t.Logf("%d to %d: %+v -> %+v", op.Call, op.Return, op.Input, op.Output)
			}
			t.Errorf("round %d: in no order could these answers have been given", round)
		}
		site.stop()
	}
	t.Logf("%d calls in %d histories", total, rounds)
}

func ask(t *testing.T, h *Host, q joinAsked, secrets [3]string, keys []ed25519.PrivateKey) (joinAnswer, error) {
	public := keys[q.key].Public().(ed25519.PublicKey)
	var refusal *fault.Error
	switch q.what {
	case "look":
		m, _ := h.Rights(public)
		return joinAnswer{name: m.Device, revoked: m.Revoked}, nil
	case "revoke":
		err := h.Revoke(q.name, "for a trial")
		if err != nil && (!errors.As(err, &refusal) || refusal.Kind != fault.NotFound &&
			refusal.Kind != fault.Conflict) {
			return joinAnswer{}, err
		}
		return joinAnswer{refused: err != nil}, nil
	}
	secret := secrets[q.code]
	m, err := h.Enrol(t.Context(), enrol.Applicant{
		Secret: secret, Key: public,
		Proof: ed25519.Sign(keys[q.key], []byte(secret)),
	})
	if err != nil && (!errors.As(err, &refusal) || refusal.Kind != fault.Denied && refusal.Kind != fault.Conflict) {
		return joinAnswer{}, err
	}
	return joinAnswer{name: m.Device, refused: err != nil}, nil
}

// The check can fail: histories that break the promise are seen to.
func TestAHistoryThatBreaksThePromiseIsSeen(t *testing.T) {
	join := func(code, key int) joinAsked { return joinAsked{what: "join", code: code, key: key} }
	at := func(who int, call, end int64, in joinAsked, out joinAnswer) porcupine.Operation {
		return porcupine.Operation{ClientId: who, Input: in, Call: call, Output: out, Return: end}
	}
	for name, c := range map[string]struct {
		ops  []porcupine.Operation
		want bool
	}{
		"one after the other": {[]porcupine.Operation{
			at(0, 1, 2, join(0, 1), joinAnswer{name: "n1"}), at(1, 3, 4, join(0, 2), joinAnswer{refused: true}),
		}, true},
		"a code of one use lets in two": {[]porcupine.Operation{
			at(0, 1, 4, join(0, 1), joinAnswer{name: "n1"}), at(1, 2, 3, join(0, 2), joinAnswer{name: "n2"}),
		}, false},
		"a name is given twice": {[]porcupine.Operation{
			at(0, 1, 4, join(2, 1), joinAnswer{name: "n1"}), at(1, 2, 3, join(2, 2), joinAnswer{name: "n1"}),
		}, false},
		"a look that does not see who was let in before it": {[]porcupine.Operation{
			at(0, 1, 2, join(0, 1), joinAnswer{name: "n1"}), at(1, 3, 4, joinAsked{what: "look", key: 1}, joinAnswer{}),
		}, false},
		"a revoked device is let in again": {[]porcupine.Operation{
			at(0, 1, 2, join(0, 1), joinAnswer{name: "n1"}), at(0, 3, 4, joinAsked{what: "revoke", name: "n1"},
				joinAnswer{}),
			at(1, 5, 6, join(0, 1), joinAnswer{name: "n1"}),
		}, false},
	} {
		if got := porcupine.CheckOperations(joinModel(), c.ops); got != c.want {
			t.Errorf("%s: held to be possible: %v, want %v", name, got, c.want)
		}
	}
}
