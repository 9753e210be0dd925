package journal

import (
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
)

// keptFile says how far this device's own record reached when it was last written to. It lies outside of SQLite's
// files, because damage to the end of those looks to SQLite like a transaction that was never finished, and is passed
// over without a word. It is never flushed: it may be behind the record, never ahead of it.
const keptFile = dbFile + "-kept"

// mark is the seq of the last event of one's own that was kept, as the file has it, so that any change in it is
// noticed.
func mark(seq uint64) []byte {
	text := fmt.Sprintf("%020d", seq)
	return fmt.Appendf(nil, "%s %08x\n", text, crc32.ChecksumIEEE([]byte(text)))
}

// openKept opens the file for writing. A journal without it works all the same.
func openKept(dir string) *os.File {
	f, err := os.OpenFile(filepath.Join(dir, keptFile), os.O_WRONLY|os.O_CREATE, 0o600)
	if err != nil {
		return nil
	}
	return f
}

// readKept is 0 where there is no such file or it cannot be read.
func readKept(dir string) uint64 {
	text, err := os.ReadFile(filepath.Join(dir, keptFile))
	if err != nil {
		return 0
	}
	var seq uint64
	if _, err := fmt.Sscanf(string(text), "%d", &seq); err != nil || string(text) != string(mark(seq)) {
		return 0
	}
	return seq
}

// remember how far the record reaches. The caller holds the turn, and has committed.
func (j *Journal) remember(seq uint64) {
	if j.kept != nil && seq > 0 {
		_, _ = j.kept.WriteAt(mark(seq), 0) // it guards against damage and is not the record
	}
}

// checkKept compares the record with what was once kept. kept was read before the record was.
func (j *Journal) checkKept(kept, held uint64) error {
	if held >= kept {
		return nil
	}
	return &Error{
		Kind: Damaged,
		Msg: fmt.Sprintf(
			"the journal in %s ends at %s/%d, but %s/%d was kept there: it is damaged, or an older copy was put in its place; "+
				"%s, and copy the whole folder to a safe place. To go on with what is left, remove %s; `hod sync` then brings back what the server has",
			j.dir, j.device.Name, held, j.device.Name, kept, onPaper, keptFile),
	}
}
