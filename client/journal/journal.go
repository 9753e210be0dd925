// Package journal keeps this device's record on its own disk: the events written here and those of others that it has
// read, each in its author's chain.
//
// It promises that what Append or Keep said was kept is on the disk and stays there: one flushed transaction, whole or
// not at all, whether the program is killed, the disk fills or two terminals write at once. Nothing that was once an
// event is ever deleted: what a fork put out of force moves to a table of its own. It checks chains, never signatures:
// what comes from elsewhere has been admitted by an chain.KeyRing before it gets here. It knows no network.
//
// Start at Append for what this device writes, at Keep for what arrives, at Offer for what leaves. The tables are in
// schema.go.
//
// # Decisions
//
// The journal is SQLite in pure Go, flushed on each commit. Not an own framed file: two terminals at once, a kill at
// any instant and a full disk are its daily work, and triggers forbid changing an event.
//
// An offset of the clock belongs to the contact that measured it. Where the device counts the time since its start
// (Contact.Uptime, Linux only), the offset is carried on by that, so that a clock that was set since then is found
// out (Contact.OffsetAt; ClockBasis in the event). Where it does not, or was started anew, two contacts that disagree
// leave open when the clock was set: the fold flags the events that this concerns and shifts nothing. Not spread over
// the gap, which would be a guess shown as a fact. A machine whose count stands still while it is paused, as a
// suspended virtual one may, takes its clock to have been set until its next contact.
//
// A copy's age is that of the last whole contact (Contact.Fetched, by the server's clock). Not Contact.At, which a
// contact that broke off moves too. What was warned of lies in the table warned, made when it is first needed: it is
// no part of the record and may be deleted.
package journal

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"database/sql/driver"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"modernc.org/sqlite"

	"hod/internal/chain"
	"hod/internal/event"
)

const (
	dbFile  = "journal.db"
	keyFile = "device.key"

	memory = ":memory:" // SQLite's address for no file at all

	// busyMillis is how long a command waits for another one on the same device.
	busyMillis = 5000
)

// Device is who writes here, and whom it trusts.
type Device struct {
	Site    string
	Name    event.Device
	Crew    event.Crew // of events that name none
	Role    event.Role
	Key     ed25519.PrivateKey // lies in a file of its own, beside the record
	Bus     string             // host:port, or several, parted by commas
	Server  string             // host:port
	CA      []byte             // the site's certificate authority, PEM
	Root    event.Device       // whose enrolments are trusted
	RootKey ed25519.PublicKey
}

// Journal is one device's record, open. Its methods may be called from several goroutines and processes at once.
type Journal struct {
	dir    string
	device Device
	db     *sql.DB
	conn   *sql.Conn
	turn   chan struct{}        // held by whoever uses conn and what is below
	parsed map[string]*sql.Stmt // what is asked over and over
	kept   *os.File             // see kept.go; nil where there is none
	wrote  uint64               // seq of the last event of this device's own in the transaction that runs
	closed bool
}

// Create makes the record of a device that has just joined, in dir, which is made if it is missing. A folder that holds
// a record already, or the key of another device, is refused with an Error of Kind Exists. What a Create that was
// killed has left is finished by the next one with the same key.
func Create(dir string, d Device) (*Journal, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	if err := MakeFolder(dir); err != nil {
		return nil, fileError(dir, err)
	}
	if _, err := os.Lstat(filepath.Join(dir, dbFile)); errors.Is(err, fs.ErrNotExist) {
		if err := claimable(dir, d.Key); err != nil { // a refusal makes no file there
			return nil, err
		}
	}
	j, err := connect(dir, address(filepath.Join(dir, dbFile), "rwc"))
	if err != nil {
		return nil, err
	}
	private(filepath.Join(dir, dbFile)) // before anything is written to it
	if err := j.found(d, func() error { return claim(dir, d.Key) }); err != nil {
		return nil, errors.Join(err, j.Close())
	}
	if err := flush(dir); err != nil {
		return nil, errors.Join(fileError(dir, err), j.Close())
	}
	j.kept = openKept(dir)
	return j, nil
}

// Open opens the record in dir. The Error says by its Kind that there is none (Missing), that it may not be written
// (ReadOnly), that it is damaged (Damaged), or that a newer hod made it (Newer).
func Open(dir string) (*Journal, error) {
	path := filepath.Join(dir, dbFile)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, &Error{
			Kind: Missing,
			Msg:  fmt.Sprintf("there is no journal in %s: join a site first, `hod join CODE`", dir), Err: err,
		}
	} else if err != nil {
		return nil, fileError(dir, err)
	}
	if err := writable(path); err != nil {
		return nil, fileError(dir, err)
	}
	private(path)
	j, err := connect(dir, address(path, "rw"))
	if err != nil {
		return nil, err
	}
	if err := j.load(); err != nil {
		return nil, errors.Join(err, j.Close())
	}
	j.kept = openKept(dir)
	return j, nil
}

// private lets nobody but its owner read the database, whatever the folder allows; SQLite gives the files beside it the
// mode that it has. Where the system refuses to change it, the journal is opened all the same: recording goes first.
func private(path string) {
	for _, one := range []string{path, path + "-wal", path + "-shm"} {
		if info, err := os.Stat(one); err == nil && info.Mode().IsRegular() && info.Mode().Perm()&0o077 != 0 {
			_ = os.Chmod(one, 0o600)
		}
	}
}

// Device is who writes here.
func (j *Journal) Device() Device { return j.device }

// Close lets go of the files. What was kept is on the disk already.
func (j *Journal) Close() error {
	j.turn <- struct{}{}
	defer func() { <-j.turn }()
	if j.closed {
		return nil
	}
	j.closed = true
	for _, s := range j.parsed {
		_ = s.Close() // the connection goes with it
	}
	if j.kept != nil {
		_ = j.kept.Close() // nothing in it is waited for
	}
	return errors.Join(j.conn.Close(), j.db.Close())
}

// KeyRing is the keys that this device trusts, by the enrolments among the events that it holds, and its own.
func (d Device) KeyRing(events []event.Event) *chain.KeyRing {
	ring := chain.NewKeyRing(d.Site, d.Root, d.RootKey)
	ring.TrustOwn(d.Name, d.Key.Public().(ed25519.PublicKey))
	ring.LearnAll(events)
	return ring
}

func (d Device) check() error {
	switch {
	case d.Site == "" || d.Name == "" || d.Root == "":
		return fmt.Errorf("a device needs a site, a name and the site's root device, not %q, %q and %q", d.Site, d.Name,
			d.Root)
	case len(d.Key) != ed25519.PrivateKeySize:
		return fmt.Errorf("the key of device %q has %d bytes, not %d", d.Name, len(d.Key), ed25519.PrivateKeySize)
	case len(d.RootKey) != ed25519.PublicKeySize:
		return fmt.Errorf("the root key of site %q has %d bytes, not %d", d.Site, len(d.RootKey), ed25519.PublicKeySize)
	}
	return nil
}

// found makes the tables and writes who this is, in one transaction: a journal is there wholly or not at all. The
// transaction shuts out whoever else would join into the same folder, so that the key beside the journal is the key of
// who is in it; claim puts it there.
func (j *Journal) found(d Device, claim func() error) error {
	ctx := context.Background()
	err := j.write(ctx, func(q *sql.Conn) error {
		var version int
		if err := j.scan(q.QueryRowContext(ctx, `pragma user_version`), &version); err != nil {
			return err
		}
		if version != 0 || readKept(j.dir) > 0 {
			return &Error{
				Kind: Exists,
				Msg:  fmt.Sprintf("%s already holds a journal; it was left as it is: choose another folder", j.dir),
			}
		}
		if err := claim(); err != nil {
			return err
		}
		if _, err := q.ExecContext(ctx, schema); err != nil {
			return err
		}
		for _, row := range d.rows() {
			if _, err := q.ExecContext(ctx, `insert into meta (key, value) values (?, ?)`, row.key,
				row.value); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	j.device = d
	return nil
}

func (j *Journal) load() error {
	ctx := context.Background()
	kept := readKept(j.dir) // before the record is read: another process may write meanwhile
	var version int
	if err := j.scan(j.conn.QueryRowContext(ctx, `pragma user_version`), &version); err != nil {
		return j.fail(err)
	}
	switch {
	case version == 0:
		return &Error{
			Kind: Missing,
			Msg: fmt.Sprintf("the journal in %s was never finished: join again with the same code, `hod join CODE`",
				j.dir),
		}
	case version > form():
		return j.newer(ctx, version)
	case version < form():
		if err := j.migrate(ctx, version); err != nil {
			return err
		}
	}
	if err := j.complete(ctx); err != nil {
		return err
	}
	if err := j.recognise(ctx); err != nil {
		return err
	}
	if kept == 0 {
		return nil
	}
	head, err := j.Head(ctx, j.device.Name)
	if err != nil {
		return err
	}
	return j.checkKept(kept, head.Seq)
}

// recognise reads whose journal this is, and refuses the key of another beside it.
func (j *Journal) recognise(ctx context.Context) error {
	held, err := j.meta(ctx)
	if err != nil {
		return err
	}
	key, err := ownKey(j.dir, held["public_key"])
	if err != nil {
		return err
	}
	j.device = deviceOf(held, key)
	if err := j.device.check(); err != nil {
		return &Error{Kind: Damaged, Msg: fmt.Sprintf("the journal in %s is damaged: %v", j.dir, err)}
	}
	if !key.Public().(ed25519.PublicKey).Equal(ed25519.PublicKey(held["public_key"])) {
		return &Error{
			Kind: Damaged,
			Msg: fmt.Sprintf(
				"%s in %s is not the key of the device %q whose journal lies beside it: put the right one back",
				keyFile, j.dir, j.device.Name),
		}
	}
	return nil
}

// meta is what the journal says of itself, by its keys.
func (j *Journal) meta(ctx context.Context) (map[string][]byte, error) {
	rows, err := j.conn.QueryContext(ctx, `select key, value from meta`)
	if err != nil {
		return nil, j.fail(err)
	}
	defer rows.Close()
	held := map[string][]byte{}
	for rows.Next() {
		var key string
		var value []byte
		if err := j.scan(rows, &key, &value); err != nil {
			return nil, j.fail(err)
		}
		held[key] = value
	}
	if err := rows.Err(); err != nil {
		return nil, j.fail(err)
	}
	return held, nil
}

type metaRow struct {
	key   string
	value []byte
}

func (d Device) rows() []metaRow {
	return []metaRow{
		{"site", []byte(d.Site)},
		{"name", []byte(d.Name)},
		{"crew", []byte(d.Crew)},
		{"role", []byte{byte(d.Role)}},
		{"bus", []byte(d.Bus)},
		{"server", []byte(d.Server)},
		{"ca", d.CA},
		{"root", []byte(d.Root)},
		{"root_key", d.RootKey},
		{"public_key", d.Key.Public().(ed25519.PublicKey)},
	}
}

// SetServer stores where this device's server is from now on: where it answers questions, where its bus listens, and
// the PEM of the authority that signs for it.
func (j *Journal) SetServer(ctx context.Context, server, bus string, ca []byte) error {
	d := j.device
	d.Server, d.Bus, d.CA = server, bus, ca
	if err := d.check(); err != nil {
		return err
	}
	err := j.write(ctx, func(q *sql.Conn) error {
		for _, row := range d.rows() {
			if err := j.put(ctx, q, `insert or replace into meta (key, value) values (?, ?)`, row.key,
				row.value); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		j.device = d
	}
	return err
}

func deviceOf(held map[string][]byte, key ed25519.PrivateKey) Device {
	d := Device{
		Site: string(held["site"]), Name: event.Device(held["name"]), Crew: event.Crew(held["crew"]),
		Key: key, Bus: string(held["bus"]), Server: string(held["server"]),
		CA: held["ca"], Root: event.Device(held["root"]), RootKey: held["root_key"],
	}
	if role := held["role"]; len(role) == 1 {
		d.Role = event.Role(role[0])
	}
	return d
}

// claim puts the key of a device into a folder without a journal.
func claim(dir string, key ed25519.PrivateKey) error {
	if err := claimable(dir, key); err != nil {
		return err
	}
	if err := writeKey(dir, key); err != nil {
		return fileError(dir, err)
	}
	return nil
}

// claimable returns why a folder cannot be this key's. The key of another device that lies there stays: it may be all
// that is left of one. The beginning of this key is what was left when writing it was cut short.
func claimable(dir string, key ed25519.PrivateKey) error {
	there, err := os.ReadFile(filepath.Join(dir, keyFile))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fileError(dir, err)
	}
	if !strings.HasPrefix(keyText(key), string(there)) {
		return &Error{
			Kind: Exists,
			Msg: fmt.Sprintf(
				"%s holds the key of a device but no journal; it was left as it is: choose another folder, or move %s away first", dir, keyFile),
		}
	}
	return nil
}

func keyText(key ed25519.PrivateKey) string { return hex.EncodeToString(key.Seed()) + "\n" }

func writeKey(dir string, key ed25519.PrivateKey) error {
	return writeKeyFile(filepath.Join(dir, keyFile), key)
}

func readKey(dir string) (ed25519.PrivateKey, error) {
	text, err := os.ReadFile(filepath.Join(dir, keyFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &Error{
			Kind: Missing,
			Msg: fmt.Sprintf("%s holds a journal but not its key, %s: put it back, or join again into another folder",
				dir, keyFile), Err: err,
		}
	} else if err != nil {
		return nil, fileError(dir, err)
	}
	seed, err := hex.DecodeString(strings.TrimSpace(string(text)))
	if err != nil || len(seed) != ed25519.SeedSize {
		return nil, &Error{Kind: Damaged, Msg: fmt.Sprintf("%s in %s is damaged: it should hold %d hexadecimal digits",
			keyFile, dir, 2*ed25519.SeedSize)}
	}
	return ed25519.NewKeyFromSeed(seed), nil
}

// address is what SQLite opens; mode is its own: rw, or rwc to make the file.
func address(path, mode string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") {
		path = "/" + path // a drive's letter
	}
	return (&url.URL{
		Scheme: "file", OmitHost: true, Path: path,
		RawQuery: url.Values{"mode": {mode}}.Encode(),
	}).String()
}

func connect(dir, address string) (*Journal, error) {
	join := "&"
	if address == memory {
		join = "?"
	}
	base, err := sqlite.NewConnector(address + join + url.Values{"_pragma": {
		fmt.Sprintf("busy_timeout(%d)", busyMillis), "journal_mode(WAL)", "synchronous(FULL)",
		"recursive_triggers(1)", // or a replace would delete past the triggers
	}}.Encode())
	if err != nil {
		return nil, fmt.Errorf("open the journal in %s: %w", dir, err)
	}
	if address != memory {
		base = keepWAL{base}
	}
	j := &Journal{dir: dir, db: sql.OpenDB(base), turn: make(chan struct{}, 1)}
	j.db.SetMaxOpenConns(1)
	if j.conn, err = j.db.Conn(context.Background()); err != nil {
		return nil, errors.Join(j.fail(err), j.db.Close())
	}
	return j, nil
}

// keepWAL leaves the write-ahead file in place on close, which saves a flush in every command that writes.
type keepWAL struct{ driver.Connector }

func (c keepWAL) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	if control, ok := conn.(sqlite.FileControl); ok {
		if _, err := control.FileControlPersistWAL("main", 1); err != nil {
			return nil, errors.Join(err, conn.Close())
		}
	}
	return conn, nil
}

// row asks for one row by a statement that is parsed once for as long as the journal is open: a contact asks for heads
// by the dozen. The caller has the turn.
func (j *Journal) row(ctx context.Context, q *sql.Conn, text string, args ...any) *sql.Row {
	if s := j.statement(ctx, q, text); s != nil { //nolint:sqlclosecheck // Close does
		return s.QueryRowContext(ctx, args...)
	}
	return q.QueryRowContext(ctx, text, args...) // which tells why it cannot be parsed
}

// ask is row for many; the caller closes what it gets before it asks the same again.
func (j *Journal) ask(ctx context.Context, q *sql.Conn, text string, args ...any) (*sql.Rows, error) {
	if s := j.statement(ctx, q, text); s != nil { //nolint:sqlclosecheck // Close does
		return s.QueryContext(ctx, args...)
	}
	return q.QueryContext(ctx, text, args...)
}

// put is row for what writes: a rewrite or a first pull puts events by the thousand.
func (j *Journal) put(ctx context.Context, q *sql.Conn, text string, args ...any) error {
	if s := j.statement(ctx, q, text); s != nil { //nolint:sqlclosecheck // Close does
		_, err := s.ExecContext(ctx, args...)
		return err
	}
	_, err := q.ExecContext(ctx, text, args...)
	return err
}

func (j *Journal) statement(ctx context.Context, q *sql.Conn, text string) *sql.Stmt {
	if j.parsed[text] == nil {
		s, err := q.PrepareContext(ctx, text) //nolint:sqlclosecheck // Close does
		if err != nil {
			return nil
		}
		if j.parsed == nil {
			j.parsed = map[string]*sql.Stmt{}
		}
		j.parsed[text] = s
	}
	return j.parsed[text]
}

// write runs do in one transaction that shuts out other writers from its start. Once write returns nil, all that do
// wrote is flushed; otherwise none of it is kept.
func (j *Journal) write(ctx context.Context, do func(*sql.Conn) error) error {
	return j.transact(ctx, "begin immediate", do)
}

// read runs do against one state of the record, whatever other processes write meanwhile.
func (j *Journal) read(ctx context.Context, do func(*sql.Conn) error) error {
	return j.transact(ctx, "begin", do)
}

func (j *Journal) transact(ctx context.Context, begin string, do func(*sql.Conn) error) error {
	select {
	case j.turn <- struct{}{}:
		defer func() { <-j.turn }()
	case <-ctx.Done():
		return ctx.Err()
	}
	j.wrote = 0
	if err := j.put(ctx, j.conn, begin); err != nil {
		return j.fail(err)
	}
	// The end of a transaction is never given up half-way: whoever asked must learn what became of it.
	end := context.WithoutCancel(ctx)
	if err := do(j.conn); err != nil {
		_, _ = j.conn.ExecContext(end, "rollback") // fails where SQLite has rolled back itself, which is as good
		return j.fail(err)
	}
	if err := j.put(end, j.conn, "commit"); err != nil {
		_, _ = j.conn.ExecContext(end, "rollback")
		return j.fail(err)
	}
	j.remember(j.wrote)
	return nil
}

// MakeFolder makes a folder and those that it lies in, and flushes the name of each one made: what is flushed in a
// folder whose own name is not may be gone with it.
func MakeFolder(dir string) error {
	info, err := os.Stat(dir)
	switch {
	case err == nil && !info.IsDir():
		return &fs.PathError{Op: "mkdir", Path: dir, Err: syscall.ENOTDIR}
	case err == nil || !errors.Is(err, fs.ErrNotExist):
		return err
	}
	parent := filepath.Dir(dir)
	if parent != dir {
		if err := MakeFolder(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return flush(parent)
}

// flush makes the names in a folder durable, where the system can.
func flush(dir string) error {
	d, err := os.Open(dir)
	if errors.Is(err, fs.ErrPermission) {
		return nil // one may make a name where one may not read them
	}
	if err != nil {
		return err
	}
	_ = d.Sync() // not every system flushes a folder
	return d.Close()
}
