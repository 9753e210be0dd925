package host

import (
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"strings"
	"testing"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/store"
)

// Any bytes as the file that says how far the stream was read end in what it can say, or in an error.
func FuzzCheckpointFile(f *testing.F) {
	id := store.Identity{
		Site: "dune", Root: store.RootDevice,
		Key: ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize)),
	}
	r := reached{
		Stream: checkpoint{
			Settled: position{Seq: 3}, Top: position{7, event.Hash{1}},
			Seen: map[event.Device][]run{"n1": {{1, 4}, {9, 9}}},
		},
		Heads: []store.SavedHead{{Device: "n1", Seq: 4, Chain: event.Hash{2}}},
	}
	message, err := r.signed(id.Site)
	if err != nil {
		f.Fatal(err)
	}
	r.Signature = hex.EncodeToString(ed25519.Sign(id.Key, message))
	saved, err := json.Marshal(r)
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range []string{string(saved), strings.Replace(string(saved), `"seq":7`, `"seq":8`,
		1), `{}`, `null`, `[]`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var r reached
		if json.Unmarshal(text, &r) == nil {
			// What is signed again as it was read is read as the same.
			message, err := r.signed(id.Site)
			if err != nil {
				t.Fatalf("what was read cannot be signed: %v", err)
			}
			if _, err := reachedOf(text, id); err == nil &&
				!strings.EqualFold(r.Signature, hex.EncodeToString(ed25519.Sign(id.Key, message))) {
				t.Fatalf("it counts under the signature %q", r.Signature)
			}
			r.Signature = hex.EncodeToString(ed25519.Sign(id.Key, message))
			whole, err := json.Marshal(r)
			if err != nil {
				t.Fatal(err)
			}
			again, err := reachedOf(whole, id)
			if err != nil {
				t.Fatalf("%s\nis read anew with %v", whole, err)
			}
			if b, err := json.Marshal(again); err != nil || string(b) != string(whole) {
				t.Fatalf("%s\nis read anew as\n%s, %v", whole, b, err)
			}
			r.trusted()(chain.Head{})
			at := r.checkpoint()
			at.has("n1", 1, 2)
			_, _ = r.compare(newLog(id))
		}
	})
}
