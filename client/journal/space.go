package journal

import (
	"os"
	"path/filepath"
)

// Space is how much of its disk a journal fills, in bytes.
type Space struct {
	Used int64
	Free int64 // that this user may still fill; below 0: not known
}

// Space measures the folder of the journal.
func (j *Journal) Space() (Space, error) {
	var s Space
	err := filepath.WalkDir(j.dir, func(_ string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		if info, gone := d.Info(); gone == nil { // what is gone meanwhile takes no space
			s.Used += info.Size()
		}
		return nil
	})
	if err != nil {
		return s, fileError(j.dir, err)
	}
	s.Free = freeOf(j.dir)
	return s, nil
}
