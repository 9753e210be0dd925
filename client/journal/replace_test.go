package journal

import (
	"crypto/ed25519"
	"crypto/rand"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"hod/internal/chain"
)

func TestAJournalGoesOnAsAnotherNameAndOffersWhatItWroteBefore(t *testing.T) {
	j := create(t, "n1")
	appendNotes(t, j, "first", "second")
	other, err := Open(j.dir) // another terminal, open since before
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	key, err := j.NextKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := j.NextKey(rand.Reader); err != nil || !again.Equal(key) {
		t.Fatalf("asked again, the next key is another: %v", err)
	}
	if err := j.GoOnAs(t.Context(), "n2"); err != nil {
		t.Fatal(err)
	}
	var e *Error
	if _, err := other.Append(t.Context(), noon, note("by the old key")); !errors.As(err, &e) || e.Kind != Exists {
		t.Errorf("a terminal that was open writes on under the old name: %v", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if j, err = Open(j.dir); err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if d := j.Device(); d.Name != "n2" || !d.Key.Equal(key) || j.HasNextKey() {
		t.Errorf("it is %s; a next key is there: %v", d.Name, j.HasNextKey())
	}
	appendNotes(t, j, "third")
	if got, want := words(t, j), []string{"n1/1 first", "n1/2 second", "n2/1 third"}; !slices.Equal(got, want) {
		t.Errorf("it holds %v, want %v", got, want)
	}
	segs, err := j.Offer(t.Context(), "n1", chain.Head{})
	if err != nil || len(segs) != 1 || len(segs[0].Events) != 2 || segs[0].Verify(publicOf("n1")) != nil {
		t.Errorf("of n1 it offers %v, %v; want its two events by its own key", segs, err)
	}
	if segs, err = j.Offer(t.Context(), "n2", chain.Head{}); err != nil || len(segs) != 1 ||
		segs[0].Verify(key.Public().(ed25519.PublicKey)) != nil {
		t.Errorf("of n2 it offers %v, %v; want one by the new key", segs, err)
	}
}

// The machine stops after the journal changed hands and before the key's file did.
func TestAReplacementThatWasCutShortIsFinishedWhenTheJournalIsOpened(t *testing.T) {
	j := create(t, "n1")
	appendNotes(t, j, "first")
	path := filepath.Join(j.dir, keyFile)
	old, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	key, err := j.NextKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.GoOnAs(t.Context(), "n2"); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.Close(), os.Rename(path, filepath.Join(j.dir, nextKeyFile)),
		os.WriteFile(path, old, 0o600)); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		j, err := Open(j.dir)
		if err != nil {
			t.Fatal(err)
		}
		if d := j.Device(); d.Name != "n2" || !d.Key.Equal(key) || j.HasNextKey() {
			t.Errorf("it is %s; a next key is there: %v", d.Name, j.HasNextKey())
		}
		j.Close()
	}
}

func TestANextKeyThatCannotBeReadIsNotReplacedByAnother(t *testing.T) {
	j := create(t, "n1")
	path := filepath.Join(j.dir, nextKeyFile)
	aside := filepath.Join(t.TempDir(), "key")
	key, err := j.NextKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	// A link to itself cannot be read by anybody, root either.
	if err := errors.Join(os.Rename(path, aside), os.Symlink(nextKeyFile, path)); err != nil {
		t.Fatal(err)
	}
	if _, err := j.NextKey(rand.Reader); err == nil {
		t.Error("another key was made though one may lie there")
	}
	if err := os.Rename(aside, path); err != nil {
		t.Fatal(err)
	}
	if again, err := j.NextKey(rand.Reader); err != nil || !again.Equal(key) {
		t.Errorf("readable again, the next key is another: %v", err)
	}
	// cut short by an older hod: nobody has heard of it
	if err := os.WriteFile(path, []byte("0123"), 0o600); err != nil {
		t.Fatal(err)
	}
	made, err := j.NextKey(rand.Reader)
	if err != nil {
		t.Fatalf("what holds no key is not written anew: %v", err)
	}
	if again, err := j.NextKey(rand.Reader); err != nil || !again.Equal(made) {
		t.Errorf("written anew, it is not kept: %v", err)
	}
	if left, err := filepath.Glob(path + ".*"); err != nil || len(left) > 0 {
		t.Errorf("beside the key lies %v: %v", left, err)
	}
}
