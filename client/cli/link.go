package cli

import (
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/remote"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/auth"
	"hod/internal/event"
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

func newLink(env *session.Env) *cobra.Command {
	var long, ground string
	c := env.NewCommand("link", "An address at which anybody who is given it reads the site's pages, until it runs out",
		"hod link", "hod link --for 7d      # to the engineer, for a week")
	c.Flags().StringVar(&long, "for", "12h", "how long it holds, as in 90min, 12h, 7d; 31 days at most")
	c.Flags().StringVar(&ground, "qr", terminal.OnDark,
		"a code for a phone's camera, where the output is a terminal: for a dark one, a light one, or off")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if ground != terminal.OnDark && ground != terminal.OnLight && ground != terminal.NoCode {
			return terminal.Usagef("--qr %s is none of dark, light, off", terminal.Safe(ground))
		}
		if !env.StdoutTerminal && !c.Flags().Changed("qr") {
			ground = terminal.NoCode
		}
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			return link(c.Context(), s, long, ground)
		})
	}
	return c
}

// linked is the document hod.link.v1.
type linked struct {
	Address     string         `json:"address"`
	Until       terminal.Stamp `json:"until"`
	Certificate string         `json:"certificate_sha256,omitempty"` // missing: browsers know it
}

func link(ctx context.Context, s *session.Session, long, ground string) error {
	if s.Device.Role != event.Foreman {
		return &terminal.Error{
			Kind: terminal.Refused,
			Msg: fmt.Sprintf("the foreman makes links to the pages, and this device is a %s's; ask the foreman for one",
				s.Device.Role),
		}
	}
	span, err := unit.ParseDuration(long)
	if err != nil {
		return terminal.InFlag("for", err)
	}
	if span < time.Minute || span > auth.LinkMost {
		return terminal.Usagef("--for %s: a link holds from 1 min to 31 days; say for example --for 12h",
			terminal.Safe(long))
	}
	conn, err := remote.Dial(s.Device, s.ClockNow)
	if err != nil {
		return err
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(ctx, session.ServerTimeout)
	defer cancel()
	pages, err := hodv1.NewQueryServiceClient(conn).Pages(ctx, &hodv1.PagesRequest{})
	if err != nil {
		return session.ServerError(err, s.Device.Server)
	}
	// By the server's clock, as far as this device knows it, since that is the one that shuts the pages: s.now is that
	// clock.
	until := s.Now.Add(span).Truncate(time.Second)
	token := auth.NewLink(s.Device.Site, string(s.Device.Name), until, s.Device.Key)
	doc := linked{
		"https://" + pages.GetAddress() + auth.LinkPath(token), terminal.Stamp(until),
		hex.EncodeToString(pages.GetCertificateSha256()),
	}
	return s.Env.Print("link", doc, func(w io.Writer) {
		fmt.Fprintln(w, doc.Address)
		if code, err := terminal.QR(doc.Address, ground); err == nil && ground != terminal.NoCode {
			fmt.Fprint(w, code)
		}
		fmt.Fprintf(w, "It has %d letters, to be sent or, if it must be, typed.\n", len(doc.Address))
		fmt.Fprintf(w,
			"Whoever has it reads the pages until %s, and writes nothing; it ends at once if this device is revoked.\n",
			s.FormatTime(until))
		if doc.Certificate == "" { // browsers know it
			return
		}
		fmt.Fprintln(w,
			"A browser asks once whether to trust the site's own certificate. Let it only if the SHA-256 fingerprint that it shows is")
		fmt.Fprintln(w, "  "+inPairs(doc.Certificate))
	})
}

// inPairs is hex as browsers show a fingerprint.
func inPairs(digits string) string {
	var pairs []string
	for ; len(digits) >= 2; digits = digits[2:] {
		pairs = append(pairs, strings.ToUpper(digits[:2]))
	}
	return strings.Join(pairs, ":")
}
