package broker

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// forgetIndexes removes the broker's own summaries of what the blocks of its streams hold, so that its start reads the
// blocks themselves and holds each record against its checksum; what follows a damaged record in a block is cut off
// then, and the archive gives it back. Where there is a summary, the broker takes the records' lengths as they stand:
// one that changed led it to a number that no stream has, and it counted up to that without an end, in ever more
// memory.
func forgetIndexes(dir string) error {
	// the folder's own name may hold anything
	found, err := fs.Glob(os.DirFS(dir), "jetstream/*/streams/*/msgs/index.db")
	if err != nil {
		return fmt.Errorf("look for streams in %s: %w", dir, err)
	}
	for _, name := range found {
		if err := os.Remove(filepath.Join(dir, filepath.FromSlash(name))); err != nil &&
			!errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("have the stream read in full: %w", err)
		}
	}
	return nil
}
