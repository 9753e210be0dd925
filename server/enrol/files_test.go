package enrol

import (
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/server/fault"
)

// Any bytes as the file of an invitation end in what it can say, or in an error of a kind, in words.
func FuzzInvitationFile(f *testing.F) {
	key := ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize)).Public().(ed25519.PublicKey)
	secret := auth.Secret{1, 2, 3}
	sum := digest(secret.String())
	for _, text := range []string{
		`{}`, `null`, `[]`,
		`{"secret_sha256":"` + hex.EncodeToString(sum[:]) +
			`","role":"crew","crew":"north","expires":"2026-07-18T08:00:00Z","uses":2,"taken":[{"device":"n9","key":"00","at":"2026-07-18T07:00:00Z"}]}`,
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		one := &invitation{}
		if json.Unmarshal(text, one) != nil {
			return
		}
		if found := find([]*invitation{one}, secret.String()); (found != nil) != strings.EqualFold(one.Secret,
			hex.EncodeToString(sum[:])) {
			t.Fatalf("the secret opens %q: %v", one.Secret, found != nil)
		}
		promised([]*invitation{one}, "")
		b, err := bodyOf(one, Applicant{Crew: "south", Key: key})
		var e *fault.Error
		switch {
		case err != nil && (!errors.As(err, &e) || e.Kind == fault.Internal || e.Msg == ""):
			t.Fatalf("it is refused with %v, which is of no kind", err)
		case err == nil && b.Role == event.NoRole:
			t.Fatalf("it lets in %+v", b)
		}
	})
}
