package crew

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"hod/client/session"
	"hod/internal/event"
)

// ledFile lies beside the journal while a batch is led through: its steps so far, flushed each time, so that a phone
// that dies in the middle does not take them with it.
const ledFile = "led-through.json"

// ledLong is how old the last step may be for a batch to be gone on with; mortar is set by then.
const ledLong = 6 * time.Hour

// ledSoFar is what that file holds.
type ledSoFar struct {
	Args     []string  `json:"args"` // as they were typed: another batch is not gone on with
	Revision int       `json:"revision"`
	Steps    []ledStep `json:"steps"`
}

type ledStep struct {
	At  time.Time `json:"at"` // by this device's clock
	Cut string    `json:"cut,omitempty"`
}

func ledPath(s *session.Session) (string, error) {
	dir, err := s.Env.Folder()
	return filepath.Join(dir, ledFile), err
}

// keepSteps writes down the steps done so far. A disk that takes nothing is said once, and the batch goes on.
func (l *leader) keepSteps() {
	if l.mute {
		return
	}
	if err := l.tryKeepSteps(); err != nil {
		l.mute = true
		l.say("     the steps so far cannot be kept on this device's disk, only here: %v", err)
	}
}

func (l *leader) tryKeepSteps() error {
	path, err := ledPath(l.site)
	if err != nil {
		return err
	}
	so := ledSoFar{Args: l.site.Env.Args, Revision: l.mix.Revision}
	for _, did := range l.done {
		so.Steps = append(so.Steps, ledStep{did.at, did.cut})
	}
	text, err := json.Marshal(so)
	if err != nil {
		return fmt.Errorf("encode the steps: %w", err)
	}
	f, err := os.OpenFile(path+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// dropSteps forgets them: they are in the record, or given back in a line.
func dropSteps(s *session.Session) {
	if path, err := ledPath(s); err == nil {
		_ = os.Remove(path) // one that stays is known by its batch, or by its age
	}
}

// stepsKept are those of this very batch that were broken off, if they are not in the record.
func (l *leader) stepsKept() []stepDone {
	path, err := ledPath(l.site)
	if err != nil {
		return nil
	}
	text, err := os.ReadFile(path)
	var so ledSoFar
	if err != nil || json.Unmarshal(text, &so) != nil {
		return nil
	}
	n := len(so.Steps)
	if n == 0 || n > len(l.mix.Steps)+1 || so.Revision != l.mix.Revision || !slices.Equal(so.Args, l.site.Env.Args) {
		return nil
	}
	if old := l.site.Env.Now().Sub(so.Steps[n-1].At); old < 0 || old > ledLong {
		return nil
	}
	for _, r := range l.site.Fold.Records() { // the device died after the batch was written down
		if b, ok := r.Body.(event.BatchMixed); ok && r.Device == l.site.Device.Name &&
			b.MixedFrom.Equal(so.Steps[0].At.Truncate(time.Millisecond)) {
			return nil
		}
	}
	done := make([]stepDone, n)
	for i, step := range so.Steps {
		done[i] = stepDone{step.At, step.Cut}
	}
	return done
}
