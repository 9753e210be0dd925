package journal

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"hod/internal/event"
)

// nextKeyFile holds the key that this device is about to go on with. It is there from before the server hears of the
// key until the journal is its own.
const nextKeyFile = "device.key.next"

// NextKey returns the key that this device is to go on with, made from random where it was not yet, and flushed: the
// answer of the server may be lost, and the same key must be offered again.
func (j *Journal) NextKey(random io.Reader) (ed25519.PrivateKey, error) {
	path := filepath.Join(j.dir, nextKeyFile)
	key, err := readKeyFile(path)
	if err == nil {
		return key, nil
	}
	// a key may lie there that the server has heard of
	if !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, errNoKey) {
		return nil, fileError(j.dir, err)
	}
	_, key, err = ed25519.GenerateKey(random)
	if err != nil {
		return nil, fmt.Errorf("make the device's next key: %w", err)
	}
	if err := errors.Join(writeKeyFile(path, key), flush(j.dir)); err != nil {
		return nil, fileError(j.dir, err)
	}
	return key, nil
}

// HasNextKey reports whether a replacement of this device's key was begun.
func (j *Journal) HasNextKey() bool {
	_, err := readKeyFile(filepath.Join(j.dir, nextKeyFile))
	return err == nil
}

// GoOnAs makes this journal that of another name with NextKey. What was written under the old name stays, signed by the
// old key in one transaction with the change, and is offered as another device's would be. A kill at any instant leaves
// the journal wholly the old device's or wholly the new one's.
func (j *Journal) GoOnAs(ctx context.Context, name event.Device) error {
	key, err := readKeyFile(filepath.Join(j.dir, nextKeyFile))
	if err != nil {
		return fileError(j.dir, err)
	}
	d := j.device
	d.Name, d.Key = name, key
	if err := d.check(); err != nil {
		return err
	}
	err = j.write(ctx, func(q *sql.Conn) error {
		if err := j.stillOwn(ctx, q); err != nil {
			return err
		}
		if err := j.signOwn(ctx, q); err != nil {
			return err
		}
		for _, row := range d.rows() {
			if err := j.put(ctx, q, `insert or replace into meta (key, value) values (?, ?)`, row.key,
				row.value); err != nil {
				return err
			}
		}
		j.forgetKept() // it counts the old name's events; without it a journal works all the same
		return nil
	})
	if err != nil {
		return err
	}
	j.device = d
	return takeNextKey(j.dir)
}

// signOwn puts this device's own events into segments, by the key that it has.
func (j *Journal) signOwn(ctx context.Context, q *sql.Conn) error {
	for after := j.root(j.device.Name); ; {
		segs, err := j.ownSegments(ctx, q, after)
		if err != nil || len(segs) == 0 {
			return err
		}
		for _, s := range segs {
			if err := j.put(ctx, q, `insert or ignore into segment (device, first, last, raw) values (?, ?, ?, ?)`,
				string(j.device.Name), int64(s.First()), int64(s.After.Seq), s.Bytes()); err != nil {
				return err
			}
		}
		after = segs[len(segs)-1].After
	}
}

// stillOwn refuses to write for a device that another process replaced since this one opened the journal.
func (j *Journal) stillOwn(ctx context.Context, q *sql.Conn) error {
	var public []byte
	if err := j.scan(j.row(ctx, q, `select value from meta where key = 'public_key'`), &public); err != nil {
		return err
	}
	if own, _ := j.device.Key.Public().(ed25519.PublicKey); !own.Equal(ed25519.PublicKey(public)) {
		return &Error{
			Kind: Exists,
			Msg: fmt.Sprintf(
				"the key of this device was replaced meanwhile, and %s writes no more; nothing was recorded: run the command again", j.device.Name),
		}
	}
	return nil
}

// takeNextKey makes the next key the device's own, after the journal is.
func takeNextKey(dir string) error {
	if err := os.Rename(filepath.Join(dir, nextKeyFile), filepath.Join(dir, keyFile)); err != nil {
		return fileError(dir, err)
	}
	return flush(dir)
}

// ownKey reads the key of the device whose public half is given. Where a replacement was cut short after the journal
// had changed hands, it is finished.
func ownKey(dir string, public []byte) (ed25519.PrivateKey, error) {
	key, err := readKey(dir)
	if err == nil && key.Public().(ed25519.PublicKey).Equal(ed25519.PublicKey(public)) {
		return key, nil
	}
	next, missing := readKeyFile(filepath.Join(dir, nextKeyFile))
	if missing != nil || !next.Public().(ed25519.PublicKey).Equal(ed25519.PublicKey(public)) {
		return key, err
	}
	return next, takeNextKey(dir)
}

func (j *Journal) forgetKept() {
	if j.kept != nil {
		_, _ = j.kept.WriteAt(mark(0), 0)
	}
}

// writeKeyFile writes a key whole or not at all: under a name of its own that nobody has, which only its owner reads,
// and then under path.
func writeKeyFile(path string, key ed25519.PrivateKey) error {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	_, err = f.WriteString(keyText(key))
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}

// errNoKey is that a file of a key was read and holds none.
var errNoKey = errors.New("it holds no key")

func readKeyFile(path string) (ed25519.PrivateKey, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	seed, err := hex.DecodeString(strings.TrimSpace(string(text)))
	if err != nil || len(seed) != ed25519.SeedSize {
		return nil, &fs.PathError{Op: "read", Path: path, Err: errNoKey}
	}
	return ed25519.NewKeyFromSeed(seed), nil
}
