package cli

import (
	"context"
	"io"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// board is what is about to go wrong, and how far the shell is.
type board struct {
	looking
	stay bool
}

func newBoard(env *deviceEnv) *cobra.Command {
	var b board
	c := env.command("board", "What is about to go wrong, and how far the shell is",
		"hod board", "hod board --server", "hod board --stay     # until Ctrl-C, again whenever a minute turns")
	b.flags(c)
	c.Flags().BoolVar(&b.stay, "stay", false, "stay on the screen, fetch what others wrote and show it again each minute")
	c.RunE = func(c *cobra.Command, _ []string) error { return b.run(c.Context(), env) }
	return c
}

func (b board) run(ctx context.Context, env *deviceEnv) error {
	for {
		if b.stay && !b.server && b.at == "" {
			env.fetch(ctx)
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
		if env.StdoutTerminal && !env.json {
			_, _ = io.WriteString(env.Stdout, "\x1b[H\x1b[2J")
		}
	}
}

func (b board) show(ctx context.Context, env *deviceEnv) error {
	v, s, err := look(ctx, env, b.looking,
		func(s *site) (view.Board, error) { return view.BoardOf(s.fold, s.now, s.in), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Board(ctx, &hodv1.BoardRequest{At: at})
			return r.GetBoard(), err
		})
	if err != nil {
		return err
	}
	defer s.close()
	if b.stay { // it is on the screen, which begins with it
		s.after = nil
	}
	return env.show("board", v, report.Board(v, s.page()))
}
