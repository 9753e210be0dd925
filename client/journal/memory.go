package journal

import (
	"errors"
	"fmt"
)

// What is in this file is for simulations and for the tests of other packages, which cannot reach a file of tests.

// InMemory is a journal that lasts until it is closed.
func InMemory(d Device) (*Journal, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	j, err := connect("memory", memory)
	if err != nil {
		return nil, err
	}
	if err := j.found(d, func() error { return nil }); err != nil {
		return nil, errors.Join(err, j.Close())
	}
	return j, nil
}

// Copy is the record as it stands now, in memory and with its key: what a copied phone holds, or one restored from a
// backup.
func (j *Journal) Copy() (*Journal, error) {
	j.turn <- struct{}{}
	defer func() { <-j.turn }()
	to, err := connect("memory", memory)
	if err != nil {
		return nil, err
	}
	err = j.conn.Raw(func(from any) error {
		return to.conn.Raw(func(into any) error {
			source, ok := from.(interface{ Serialize() ([]byte, error) })
			target, fits := into.(interface{ Deserialize([]byte) error })
			if !ok || !fits {
				return fmt.Errorf("this build's SQLite driver cannot copy a journal")
			}
			pages, err := source.Serialize()
			if err != nil {
				return err
			}
			return target.Deserialize(pages)
		})
	})
	if err != nil {
		return nil, errors.Join(j.fail(err), to.Close())
	}
	to.device = j.device
	return to, nil
}
