package session

import (
	"context"
	"sync/atomic"
	"time"

	"hod/client/remote"
	"hod/client/sync"
	"hod/client/terminal"
	"hod/internal/bus"
)

// tellsAfter is how long a contact goes on before it is told on a terminal how far it is, and after how long again.
const tellsAfter = 2 * time.Second

// ContactWhile has a contact that may take as long as it likes while something comes: a large site is fetched in
// minutes. It ends where nothing was kept or sent for so long; the next contact goes on from there. How far it is, a
// terminal shows.
func (env *Env) ContactWhile(ctx context.Context, road *remote.Session, patience time.Duration) (sync.Outcome, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var silent atomic.Bool
	watch := time.AfterFunc(patience, func() {
		silent.Store(true)
		cancel()
	})
	defer watch.Stop()
	told := env.Now()
	road.Progress = func(out sync.Outcome) {
		watch.Reset(patience)
		if now := env.Now(); env.StderrTerminal && now.Sub(told) >= tellsAfter {
			told = now
			env.Hintf("%s fetched, %d sent; going on", terminal.Plural(out.Pulled, "event", "events"), out.Pushed)
		}
	}
	defer func() { road.Progress = nil }()
	out, err := road.Contact(ctx, env.Clock())
	if err != nil && silent.Load() {
		err = &bus.Error{Kind: bus.Unreachable, Msg: "the site's server sent nothing for " + patience.String() +
			"; what had come by then is kept, and `hod sync` goes on from there", Err: err}
	}
	if err == nil {
		env.answered()
	}
	return out, err
}

// answered remembers that the server did answer.
func (env *Env) answered() {
	if dir, err := env.Folder(); err == nil {
		forgetSilence(dir)
	}
}
