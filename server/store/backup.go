package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	portable "hod/internal/archive"
	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

// backupFile is the name of the file in which a data folder states its last backup.
const backupFile = "backup.json"

// Backup is what a backup holds.
type Backup struct {
	Site   string
	Dir    string
	At     time.Time
	Events int
	Heads  []chain.Head // how far it reaches, by device
	Bytes  int64        // of the archive
	Copied int64        // of them, those that were not there from an earlier backup
}

// backupJSON is what backup.json holds.
type backupJSON struct {
	At    time.Time   `json:"at"`
	Dir   string      `json:"dir"`
	Heads []SavedHead `json:"heads"`
}

// MakeBackup copies what a data folder has flushed into another folder, and reads the copy again and verifies it before
// it is remembered as a backup. A server may run on the data folder meanwhile. An earlier backup of the same site goes
// on where it ended, and is refused if it holds anything else than the data folder does: it may be the better one.
//
// The copy is a data folder itself, root key and all, with what lies in the folders named by also: a server started on
// it, or on a copy of it, is the same site. Whoever can read it can become that site.
func MakeBackup(dir, to string, now time.Time, also ...string) (Backup, error) {
	id, err := ReadIdentity(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return Backup{}, fault.New(fault.NotFound, err, "%s holds no site's record; say which folder does with --data",
			dir)
	} else if err != nil {
		return Backup{}, err
	}
	if to, err = beginBackup(dir, to, id); err != nil {
		return Backup{}, err
	}
	lock, err := Lock(to)
	if err != nil {
		return Backup{}, err
	}
	b, err := copyAll(dir, to, id, also)
	if err == nil {
		b.Dir, b.At = to, now
		err = b.verify()
	}
	if err = errors.Join(err, lock.Close()); err != nil {
		return Backup{}, err
	}
	return b, b.remember(dir)
}

// beginBackup returns the absolute path of the folder to copy to, which it makes where it is missing. It returns an
// Error where that lies in the data folder itself, belongs to another site, or holds anything but a backup.
func beginBackup(dir, to string, id Identity) (string, error) {
	to, err := filepath.Abs(to)
	if err != nil {
		return "", fmt.Errorf("find %s: %w", to, err)
	}
	if own, err := filepath.Abs(dir); err == nil &&
		(to == own || strings.HasPrefix(to, own+string(filepath.Separator))) {
		return "", fault.New(fault.Invalid, nil,
			"%s lies in the data folder itself, and would be lost with it; name a folder on another disk", to)
	}
	if err := MakeFolder(to); err != nil {
		return "", fault.OfFile(to, err)
	}
	switch site, err := readSite(to); {
	case err == nil && (site.Site != id.Site || !site.RootKey.Equal(id.Public())):
		return "", fault.New(fault.Conflict, nil,
			"%s holds a backup of the site %q, not of this one; name another folder", to, site.Site)
	case err == nil:
		return to, nil
	case !errors.Is(err, fs.ErrNotExist):
		return "", err
	}
	entries, err := ReadDir(to)
	if err != nil {
		return "", fault.OfFile(to, err)
	}
	if len(entries) > 0 {
		return "", fault.New(fault.Conflict, nil,
			"%s holds something else than a backup; name a new folder, an empty one, or an earlier backup of this site",
			to)
	}
	return to, nil
}

// copyAll copies who the site is first: a copy that is cut off is then known as what it is, and the next one goes on.
func copyAll(dir, to string, id Identity, also []string) (Backup, error) {
	b := Backup{Site: id.Site}
	for _, name := range []string{keyFile, siteFile} {
		if _, err := copyFile(filepath.Join(dir, name), filepath.Join(to, name)); err != nil {
			return b, err
		}
	}
	if err := markCopy(to); err != nil {
		return b, err
	}
	for _, folder := range also {
		if err := copyFolder(filepath.Join(dir, folder), filepath.Join(to, folder), func(from, into string) error {
			_, err := copyFile(from, into)
			return err
		}); err != nil {
			return b, err
		}
	}
	for _, folder := range []string{archiveDir, forksDir} {
		err := copyFolder(filepath.Join(dir, folder), filepath.Join(to, folder), func(from, into string) error {
			all, fresh, err := copyEntries(from, into)
			if folder == archiveDir {
				b.Bytes, b.Copied = b.Bytes+all, b.Copied+fresh
			}
			return err
		})
		if err != nil {
			return b, err
		}
	}
	return b, nil
}

// copyFolder copies the files of a folder, sorted by name. It refuses a target that holds other files.
func copyFolder(from, into string, one func(from, into string) error) error {
	if err := MakeFolder(into); err != nil {
		return fault.OfFile(into, err)
	}
	names, err := filesIn(from)
	if err != nil {
		return err
	}
	there, err := filesIn(into)
	if err != nil {
		return err
	}
	for _, name := range there {
		if !slices.Contains(names, name) {
			return fault.New(fault.Conflict, nil,
				"%s is not in %s: the earlier backup holds what this server does not; keep it, and name another folder",
				filepath.Join(into, name), from)
		}
	}
	for _, name := range names {
		if err := one(filepath.Join(from, name), filepath.Join(into, name)); err != nil {
			return err
		}
	}
	return nil
}

// filesIn returns the names of the files in a folder, sorted, without temporary ones that are being written.
func filesIn(dir string) ([]string, error) {
	entries, err := ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fault.OfFile(dir, err)
	}
	var names []string
	for _, e := range entries {
		if e.Type().IsRegular() && !strings.HasPrefix(e.Name(), ".") {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

func copyFile(from, into string) (int64, error) {
	data, err := ReadFile(from)
	if err != nil {
		return 0, fault.OfFile(from, err)
	}
	if old, err := ReadFile(into); err == nil && bytes.Equal(old, data) {
		return 0, nil
	}
	return int64(len(data)), ReplaceFile(into, data)
}

// copyEntries copies a file to which entries may be added at this moment: what of it is whole.
func copyEntries(from, into string) (all, fresh int64, err error) {
	data, err := ReadFile(from)
	if err != nil {
		return 0, 0, fault.OfFile(from, err)
	}
	data = wholePart(data)
	old, err := ReadFile(into)
	switch {
	case err == nil && bytes.Equal(old, data):
		return int64(len(data)), 0, nil
	case err == nil && !bytes.HasPrefix(data, old):
		return 0, 0, fault.New(fault.Conflict, nil,
			"%s is not a continuation of the earlier backup %s: one of them was changed, see `hodd verify --data` of both; the backup was left as it was", from, into)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return 0, 0, fault.OfFile(into, err)
	}
	return int64(len(data)), int64(len(data) - len(old)), ReplaceFile(into, data)
}

// wholePart is a file without what is not finished at its end.
func wholePart(data []byte) []byte {
	_, r, err := portable.NewReader(bytes.NewReader(data))
	if err != nil {
		return data
	}
	for {
		p, err := r.Next()
		if err != nil {
			return data
		}
		if p.Torn {
			return data[:p.At]
		}
	}
}

// verify reads the copy again from the disk and verifies it from the root key on.
func (b *Backup) verify() error {
	v, err := Verify(b.Dir)
	if err != nil {
		return err
	}
	if len(v.Faults) > 0 {
		f := v.Faults[0]
		return fault.New(fault.Disk, nil,
			"the copy in %s does not verify, and is not remembered as a backup (%s: %s): see `hodd verify` of the data folder", b.Dir, f.File, f.What)
	}
	b.Events = len(v.Events)
	for _, d := range v.Devices {
		b.Heads = append(b.Heads, chain.Head{Device: d.Device, Seq: d.Last, Chain: d.Chain})
	}
	return nil
}

func (b *Backup) remember(dir string) error {
	r := backupJSON{At: b.At.UTC(), Dir: b.Dir}
	for _, h := range b.Heads {
		r.Heads = append(r.Heads, SavedHead{h.Device, h.Seq, event.Hash(h.Chain)})
	}
	text, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("encode %s: %w", backupFile, err)
	}
	return ReplaceFile(filepath.Join(dir, backupFile), append(text, '\n'))
}

// SavedHead is a head in the JSON of the data folder's files.
type SavedHead struct {
	Device event.Device `json:"device"`
	Seq    uint64       `json:"seq"`
	Chain  event.Hash   `json:"chain"`
}

// lastBackup is the last backup as the data folder tells of it; another process may make one at any time.
type lastBackup struct {
	mu    sync.Mutex
	of    time.Time
	size  int64
	heads []chain.Head
}

// BackedUp says how far the last backup reaches, by device; none if there was none, or, with an error, if what is
// remembered of it is damaged. It tells what was true when that backup was made: whether it still lies where it was
// put, nobody asks.
func (f *Folder) BackedUp() ([]chain.Head, error) {
	r := &f.backups
	r.mu.Lock()
	defer r.mu.Unlock()
	path := filepath.Join(f.dir, backupFile)
	info, err := os.Stat(path)
	if err != nil {
		r.heads, r.size = nil, 0
		return nil, nil //nolint:nilerr // there was none
	}
	if info.ModTime().Equal(r.of) && info.Size() == r.size {
		return slices.Clone(r.heads), nil
	}
	var heads []chain.Head
	text, err := ReadFile(path)
	if err == nil {
		heads, err = readBackedUp(text)
	}
	r.of, r.size, r.heads = info.ModTime(), info.Size(), heads
	return slices.Clone(r.heads), err
}

// readBackedUp gives the heads in the text of backup.json; none where it is damaged.
func readBackedUp(text []byte) ([]chain.Head, error) {
	var b backupJSON
	if err := json.Unmarshal(text, &b); err != nil {
		return nil, fmt.Errorf("decode %s: %w", backupFile, err)
	}
	var heads []chain.Head
	for _, s := range b.Heads {
		if err := bus.CheckDevice(s.Device); err != nil {
			return nil, fmt.Errorf("decode %s: %w", backupFile, err)
		}
		heads = append(heads, chain.Head{Device: s.Device, Seq: s.Seq, Chain: chain.Hash(s.Chain)})
	}
	return heads, nil
}

// Verified is what Verify read and what it found.
type Verified struct {
	portable.Checked
	Header portable.Header // whose log it is, as site.json says
	Files  int
	Notes  []string // what is no fault, and good to know
}

// Verify reads all of a data folder's archive, or a backup's, from nothing but the site's root key, which site.json
// names: checksums, digests, chains, signatures, enrolments, gaps, forks. A server may run on the folder.
func Verify(dir string) (Verified, error) {
	head, err := readSite(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return Verified{}, fault.New(fault.NotFound, err,
			"%s holds no site's record; say which folder does with --data", dir)
	} else if err != nil {
		return Verified{}, err
	}
	v := Verified{Header: head}
	folder := filepath.Join(dir, archiveDir)
	names, err := filesIn(folder)
	if err != nil {
		return Verified{}, err
	}
	check := portable.NewCheck(head.Site, head.Root, head.RootKey)
	for i, name := range names {
		if !strings.HasSuffix(name, archiveEnding) {
			continue
		}
		v.Files++
		check.In(name)
		note, err := verifyFile(check, filepath.Join(folder, name), head, i == len(names)-1)
		if err != nil {
			return Verified{}, err
		}
		if note != "" {
			v.Notes = append(v.Notes, name+" "+note)
		}
	}
	check.In("")
	v.Checked = check.Done(true)
	return v, nil
}

// verifyFile verifies one file; it returns a note on what is worth knowing and no fault.
func verifyFile(check *portable.Check, path string, head portable.Header, last bool) (note string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", fault.OfFile(path, err)
	}
	defer func() { _ = f.Close() }() // only read
	is, r, err := portable.NewReader(f)
	switch {
	case errors.Is(err, portable.ErrForeign), errors.Is(err, portable.ErrHeader), errors.Is(err, portable.ErrNewer),
		errors.Is(err, io.ErrUnexpectedEOF):
		check.Fault(portable.Damaged, 0, "it cannot be read: %v", err)
		return "", nil
	case err != nil:
		return "", fault.OfFile(path, err)
	case is.Site != head.Site || is.RootKey != nil && !is.RootKey.Equal(head.RootKey):
		check.Fault(portable.Foreign, 0, "its header says that it is of the site %q", is.Site)
		return "", nil
	}
	end, err := check.Read(r)
	if err != nil {
		return "", fault.OfFile(path, err)
	}
	switch torn := end.Torn; {
	case torn != nil && last:
		return fmt.Sprintf(
			"ends with %d bytes of a record that is being written, or was when the power went; the next start cuts them off", torn.Size), nil
	case torn != nil:
		check.Fault(portable.Damaged, torn.At, "bytes %d to %d, at its end, are not what was written", torn.At,
			torn.At+torn.Size-1)
	case end.Closing == nil && !last:
		return "is not closed: it was written before files were, or was damaged then", nil
	}
	return "", nil
}
