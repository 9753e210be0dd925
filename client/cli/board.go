package cli

import (
	"context"
	"io"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view/advice"
	"hod/internal/view/daily"
	"hod/internal/wire"
	hodv1 "hod/proto/hod/v1"
)

// board is what is about to go wrong, and how far the shell is.
type board struct {
	session.ViewFlags
	stay bool
}

func newBoard(env *session.Env) *cobra.Command {
	var b board
	c := env.NewCommand("board", "What is about to go wrong, and how far the shell is",
		"hod board", "hod board --server", "hod board --stay     # until Ctrl-C, again whenever a minute turns")
	b.Register(c)
	c.Flags().BoolVar(&b.stay, "stay", false,
		"stay on the screen, fetch what others wrote and show it again each minute")
	c.RunE = func(c *cobra.Command, _ []string) error { return b.run(c.Context(), env) }
	return c
}

func (b board) run(ctx context.Context, env *session.Env) error {
	for {
		if b.stay && !b.Server && b.At == "" {
			env.Fetch(ctx)
		}
		err := b.show(ctx, env)
		if b.stay && ctx.Err() != nil { // which is how it ends
			return nil
		}
		if err != nil || !b.stay {
			return err
		}
		now := env.Now()
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(now.Truncate(time.Minute).Add(time.Minute).Sub(now)):
		}
		if env.StdoutTerminal && !env.JSON {
			_, _ = io.WriteString(env.Stdout, "\x1b[H\x1b[2J")
		}
	}
}

func (b board) show(ctx context.Context, env *session.Env) error {
	var crew event.Crew
	var next advice.Next // of the crew whose device it is
	b.Read = func(s *session.Session) error { crew = s.Device.Crew; return nil }
	v, s, err := session.View(ctx, env, b.ViewFlags,
		func(s *session.Session) (daily.Board, error) {
			if crew != "" {
				next, _ = advice.NextBriefOf(s.Fold, s.Now, s.Location, crew)
			}
			return daily.BoardOf(s.Fold, s.Now, s.Location), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			if crew != "" { // a server that knows no advice, or no such crew, has a board all the same
				if r, err := q.Next(ctx, &hodv1.NextRequest{At: at, Crew: string(crew), Brief: true}); err == nil {
					if err := wire.From(r.GetNext(), &next); err != nil {
						return nil, err
					}
				}
			}
			r, err := q.Board(ctx, &hodv1.BoardRequest{At: at})
			return r.GetBoard(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if b.stay { // it is on the screen, which begins with it
		s.OnClose = nil
	}
	if !next.WorthALine() {
		return env.Show("board", v, report.Board(v, s.Page()))
	}
	if env.AsTable() {
		return env.Show("board", v, "")
	}
	return env.Show("board", boardOfCrew{v, next}, report.Board(v, s.Page())+report.NextBrief(next, s.Page()))
}

// boardOfCrew is the board with where the next batch of the crew goes whose device shows it, where that is worth a
// line.
type boardOfCrew struct {
	daily.Board
	NextBatch advice.Next `json:"next_batch"`
}
