package store

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	portable "hod/internal/archive"
	"hod/internal/bus"
	"hod/internal/event"
	"hod/server/fault"
)

// RootDevice is the name of the device as which the server itself writes.
const RootDevice event.Device = "site"

// Names in the data folder.
const (
	siteFile   = "site.json"
	keyFile    = "root.key"
	lockFile   = "lock"
	archiveDir = "archive"
	forksDir   = "forks"
)

// folderVersion is the form of the data folder.
const folderVersion = 1

// Identity is which site this is, and the key from which all trust in its log comes.
type Identity struct {
	Site string
	Root event.Device // as which the server writes
	Key  ed25519.PrivateKey
}

// Public returns the public key that all trust in the site's log comes from.
func (id Identity) Public() ed25519.PublicKey { return id.Key.Public().(ed25519.PublicKey) }

// Header of the files of this site's archive.
func (id Identity) Header() portable.Header {
	return portable.Header{Site: id.Site, Root: id.Root, RootKey: id.Public()}
}

// siteJSON is what site.json holds.
type siteJSON struct {
	Version int    `json:"version"`
	Site    string `json:"site"`
	Root    string `json:"root"`
	RootKey string `json:"root_key"` // public, hexadecimal
	// Needs is the day from which programs know the form, where it is not the first.
	Needs string `json:"needs,omitempty"`
}

// readSite returns which site a data folder belongs to. Its error wraps fs.ErrNotExist where the folder has no site
// yet.
func readSite(dir string) (portable.Header, error) {
	path := filepath.Join(dir, siteFile)
	text, err := ReadFile(path)
	if err != nil {
		return portable.Header{}, fault.OfFile(path, err)
	}
	return siteOf(path, text)
}

// siteOf parses the text of site.json.
func siteOf(path string, text []byte) (portable.Header, error) {
	var r siteJSON
	if err := json.Unmarshal(text, &r); err != nil {
		return portable.Header{},
			fault.New(fault.Disk, err,
				"%s is damaged: take it from a backup, or remove it and say the site's name with --site", path)
	}
	if r.Version > folderVersion {
		needs := "use the newer program"
		if r.Needs != "" {
			needs = "it needs a hodd of " + fault.Quote(r.Needs) + " or later"
		}
		return portable.Header{},
			fault.New(fault.Disk, nil, "%s was made by a newer hodd (its form is %d, this one knows up to %d): %s",
				path, r.Version, folderVersion, needs)
	}
	if bus.CheckSite(r.Site) != nil || bus.CheckDevice(event.Device(r.Root)) != nil {
		return portable.Header{},
			fault.New(fault.Disk, nil,
				"%s is damaged: it names the site %q and its root device %q; take it from a backup", path, r.Site,
				r.Root)
	}
	key, err := hex.DecodeString(r.RootKey)
	if err != nil || len(key) != ed25519.PublicKeySize {
		return portable.Header{},
			fault.New(fault.Disk, err,
				"%s is damaged: its root key is not %d hexadecimal digits; take it from a backup", path,
				2*ed25519.PublicKeySize)
	}
	return portable.Header{Site: r.Site, Root: event.Device(r.Root), RootKey: key}, nil
}

// ReadIdentity reads the identity of a data folder. Its error wraps fs.ErrNotExist where the folder has none yet.
func ReadIdentity(dir string) (Identity, error) {
	site, err := readSite(dir)
	if err != nil {
		return Identity{}, err
	}
	key, err := readKey(dir)
	if err != nil {
		return Identity{}, err
	}
	if !site.RootKey.Equal(key.Public().(ed25519.PublicKey)) {
		return Identity{}, fault.New(fault.Disk, nil, "%s in %s is not the key of the site %q; put the right one back",
			keyFile, dir, site.Site)
	}
	return Identity{site.Site, site.Root, key}, nil
}

// openIdentity reads who this is, or makes it on the first start. A root key that lies there already is taken: that is
// how a server that lost its folder becomes the same site again.
func openIdentity(dir, site string) (Identity, error) {
	id, err := ReadIdentity(dir)
	if err == nil {
		if site != "" && site != id.Site {
			return Identity{}, fault.New(fault.Conflict, nil,
				"the data folder %s is that of the site %q, not of %q; choose another folder with --data", dir, id.Site,
				site)
		}
		if _, gone := os.Lstat(filepath.Join(dir, archiveDir)); errors.Is(gone, fs.ErrNotExist) {
			return id, markCopy(dir)
		}
		return id, nil
	}
	if _, gone := os.Lstat(filepath.Join(dir, siteFile)); !errors.Is(gone, fs.ErrNotExist) {
		return Identity{}, err
	}
	if site != "" {
		if err := bus.CheckSite(site); err != nil {
			return Identity{}, fault.New(fault.Invalid, err, "%v", err)
		}
	}
	key, err := readKey(dir)
	switch {
	case err == nil && site == "":
		return Identity{}, fault.New(fault.Invalid, nil,
			"%s holds the key of a site but not its name; say it with --site", dir)
	case err == nil:
		// before the site is one: a start that is cut off here knows it the next time
		if err := markCopy(dir); err != nil {
			return Identity{}, err
		}
	case !errors.Is(err, fs.ErrNotExist):
		return Identity{}, err
	default:
		if key, err = makeKey(dir); err != nil {
			return Identity{}, err
		}
	}
	if site == "" {
		site = inventName()
	}
	id = Identity{site, RootDevice, key}
	text, err := json.MarshalIndent(siteJSON{
		Version: folderVersion, Site: id.Site, Root: string(id.Root),
		RootKey: hex.EncodeToString(key.Public().(ed25519.PublicKey)),
	}, "", "  ")
	if err != nil {
		return Identity{}, fmt.Errorf("encode %s: %w", siteFile, err)
	}
	return id, ReplaceFile(filepath.Join(dir, siteFile), append(text, '\n'))
}

// inventName returns a random name, which another site will hardly have: two sites on one network must not be mistaken
// for each other.
func inventName() string {
	const letters = "abcdefghjkmnpqrstvwxyz23456789"
	b := make([]byte, 6)
	_, _ = rand.Read(b) // never fails
	for i := range b {
		b[i] = letters[int(b[i])%len(letters)]
	}
	return "site-" + string(b)
}

func makeKey(dir string) (ed25519.PrivateKey, error) {
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make the site's root key: %w", err)
	}
	return key, ReplaceFile(filepath.Join(dir, keyFile), []byte(hex.EncodeToString(key.Seed())+"\n"))
}

func readKey(dir string) (ed25519.PrivateKey, error) {
	path := filepath.Join(dir, keyFile)
	text, err := ReadFile(path)
	if err != nil {
		return nil, fault.OfFile(path, err)
	}
	return keyOf(path, text)
}

func keyOf(path string, text []byte) (ed25519.PrivateKey, error) {
	seed, err := hex.DecodeString(strings.TrimSpace(string(text)))
	if err != nil || len(seed) != ed25519.SeedSize {
		return nil, fault.New(fault.Disk, nil,
			"%s is damaged: it should hold %d hexadecimal digits; take it from a backup", path, 2*ed25519.SeedSize)
	}
	return ed25519.NewKeyFromSeed(seed), nil
}

// copyMark lies in a copy of a data folder, or one that lost its archive, until a server has started on it: that server
// does not know which names the other one gave to devices meanwhile.
const copyMark = "restored"

// markCopy marks a data folder as a copy; see copyMark.
func markCopy(dir string) error {
	path := filepath.Join(dir, copyMark)
	if _, err := os.Lstat(path); err == nil {
		return nil
	}
	return ReplaceFile(path,
		[]byte("A server that starts here gives devices other names than the one this was copied from.\n"))
}

// IsCopy reports whether a data folder is a copy on which no server has started yet.
func IsCopy(dir string) (bool, error) {
	_, err := os.Lstat(filepath.Join(dir, copyMark))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, fault.OfFile(dir, err)
}

// ForgetCopy removes the mark of a copy.
func ForgetCopy(dir string) error {
	if err := Remove(filepath.Join(dir, copyMark)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fault.OfFile(dir, err)
	}
	return nil
}
