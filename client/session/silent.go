package session

import (
	"os"
	"path/filepath"
	"strings"
	"time"
)

// silentFile lies beside the journal and says when a server was last tried that did not answer in time. It is no part
// of the record and may be deleted.
const silentFile = "silent"

// silentFor is how long a recording command does not try a server again that did not answer in time: a crew that writes
// one batch after another behind the shell waits for it once.
const silentFor = 30 * time.Second

// isSilent reports whether the server was tried a moment ago and did not answer in time. An instant that is still to
// come was told by a clock that was set since.
func (s *Session) isSilent() bool {
	text, err := os.ReadFile(filepath.Join(s.dir, silentFile))
	if err != nil {
		return false
	}
	at, err := time.Parse(time.RFC3339, strings.TrimSpace(string(text)))
	ago := s.Env.Now().Sub(at)
	return err == nil && ago >= -time.Second && ago < silentFor
}

// forgetSilence has the server tried again: it answered.
func forgetSilence(dir string) { _ = os.Remove(filepath.Join(dir, silentFile)) }

// setSilent remembers that the server did not answer in time. Where it cannot, the server is tried each time.
func (s *Session) setSilent() {
	text := s.Env.Now().UTC().Format(time.RFC3339) + "\n"
	_ = os.WriteFile(filepath.Join(s.dir, silentFile), []byte(text), 0o600)
}
