package host

import (
	"bytes"
	"crypto/ed25519"
	"os"
	"testing"

	portable "hod/internal/archive"
)

// Names in the data folder, as they lie on the disks of those who run a server.
const (
	keyFile       = "root.key"
	archiveDir    = "archive"
	forksDir      = "forks"
	invitesDir    = "invites"
	archiveEnding = ".hodlog"
	firstFile     = "000001" + archiveEnding
	tagSize       = 2
)

func publicKey(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }

// recordsIn a file of the archive, all of which must be readable.
func recordsIn(t *testing.T, path string) (records [][]byte) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, r, err := portable.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	for {
		p, err := r.Next()
		if err != nil {
			return records
		}
		if p.Damage() {
			t.Errorf("%s is damaged", path)
		}
		if p.Segment != nil {
			records = append(records, p.Segment)
		}
	}
}
