package finding

import (
	"crypto/sha256"
	"encoding/base32"
	"slices"
	"strings"
)

// Ids are letters and digits of a hash: so many that no two of a site are ever the same. Versions that grouped nothing
// made them of five, which stand in answers on disk.
const (
	IDLetters    = 12
	OldIDLetters = 5
)

// Hashed is so many letters and digits that stand for some texts.
func Hashed(letters int, parts ...string) string {
	h := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return strings.ToLower(base32.StdEncoding.EncodeToString(h[:])[:letters])
}

// ID of the finding, in full; the same on every device.
func (f Finding) ID() string { return Hashed(IDLetters, f.Code, f.Key) }

// GroupID is that of the flag which gathers the finding, in full; empty where it stands alone.
func (f Finding) GroupID() string {
	if f.Group == "" {
		return ""
	}
	return Hashed(IDLetters, f.Code, "all of", f.Group)
}

// OldIDs are those by which versions that made ids of five letters named the finding.
func (f Finding) OldIDs() []string {
	all := []string{Hashed(OldIDLetters, f.Code, f.Key)}
	for _, w := range f.Formerly {
		if old := Hashed(OldIDLetters, w.Code, w.Key); !slices.Contains(all, old) {
			all = append(all, old)
		}
	}
	return all
}
