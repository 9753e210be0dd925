package cli

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/pages"
	"hod/client/remote"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/auth"
	"hod/internal/event"
	"hod/internal/report/paper"
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

func newLink(env *session.Env) *cobra.Command {
	var long, ground string
	var sheets pages.PaperFlags
	c := env.NewCommand("link", "An address at which anybody who is given it reads the site's pages, until it runs out",
		"hod link", "hod link --for 7d      # to the engineer, for a week",
		"hod link --pdf link.pdf   # to hang up in the hut")
	sheets.Register(c)
	c.Long = "The address is short enough to be typed: the device's name and 16 letters behind the server's name. --json gives a longer one, too, " +
		"which this device signs by itself."
	c.Flags().StringVar(&long, "for", "12h", "how long it holds, as in 90min, 12h, 7d; 31 days at most")
	c.Flags().StringVar(&ground, "qr", terminal.OnDark,
		"a code for a phone's camera, where the output is a terminal: for a dark one, a light one, or off")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if ground != terminal.OnDark && ground != terminal.OnLight && ground != terminal.NoCode {
			return terminal.Usagef("--qr %s is none of dark, light, off", terminal.Safe(ground))
		}
		if err := sheets.Check(); err != nil {
			return err
		}
		if !env.StdoutTerminal && !c.Flags().Changed("qr") {
			ground = terminal.NoCode
		}
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			return link(c.Context(), s, long, ground, sheets)
		})
	}
	return c
}

// linked is the document hod.link.v1.
type linked struct {
	Address     string         `json:"address"`
	Until       terminal.Stamp `json:"until"`
	Certificate string         `json:"certificate_sha256,omitempty"` // missing: browsers know it
	Short       string         `json:"short_address,omitempty"`      // to be typed; missing: the server makes none
	// of the site's authority; missing: browsers know it
	Authority string   `json:"authority_sha256,omitempty"`
	Words     []string `json:"authority_words,omitempty"`   // its first 128 bits, to be read out
	Fetch     string   `json:"authority_address,omitempty"` // where a phone fetches it
}

func link(ctx context.Context, s *session.Session, long, ground string, sheets pages.PaperFlags) error {
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
	// By the server's clock, as far as this device knows it, since that is the one that shuts the pages: s.Now is that
	// clock.
	// A short link ends with a minute, and so does this one.
	until := s.Now.Add(span).Truncate(time.Minute)
	if until.Sub(s.Now) < time.Minute {
		until = until.Add(time.Minute)
	}
	answer, err := hodv1.NewQueryServiceClient(conn).Pages(ctx, &hodv1.PagesRequest{ShortUntil: timestamppb.New(until)})
	if err != nil {
		return session.ServerError(err, s.Device.Server)
	}
	doc := linkedOf(s, answer, until)
	if sheets.File != "" {
		return doc.onPaper(s, sheets, until)
	}
	return s.Env.Print("link", doc, func(w io.Writer) { doc.write(w, ground, s.FormatTime(until)) })
}

// onPaper is the link as a sheet, with its code.
func (l linked) onPaper(s *session.Session, sheets pages.PaperFlags, until time.Time) error {
	address := l.Address
	if l.Short != "" {
		address = l.Short
	}
	made, err := paper.Link(s.Plan.Name, address, s.FormatTime(until),
		l.trust(), until, sheets.Size(s.Units.String()))
	if err != nil {
		return err
	}
	return sheets.Save(s.Env, made)
}

func linkedOf(s *session.Session, answer *hodv1.PagesResponse, until time.Time) linked {
	at := "https://" + answer.GetAddress()
	doc := linked{
		Address: at + auth.LinkPath(auth.NewLink(s.Device.Site, string(s.Device.Name), until, s.Device.Key)),
		Until:   terminal.Stamp(until), Certificate: hex.EncodeToString(answer.GetCertificateSha256()),
	}
	if path := answer.GetShortPath(); path != "" {
		doc.Short = at + strings.TrimSuffix(path, "/")
	}
	if sum := answer.GetAuthoritySha256(); len(sum) == sha256.Size {
		doc.Authority, doc.Fetch = hex.EncodeToString(sum), at+"/authority"
		doc.Words = auth.Fingerprint(sum[:auth.FingerprintBytes]).Words()
	}
	return doc
}

// write says the link to people: the short one where there is one, since a phone's camera reads it more easily, too.
func (l linked) write(w io.Writer, ground, until string) {
	address, typed := l.Address, "or, if it must be, typed"
	if l.Short != "" {
		address, typed = l.Short, "or typed, in any case of letters"
	}
	fmt.Fprintln(w, address)
	if code, err := terminal.QR(address, ground); err == nil && ground != terminal.NoCode {
		fmt.Fprint(w, code)
	}
	fmt.Fprintf(w, "It has %d letters, to be sent %s.\n", len(address), typed)
	fmt.Fprintf(w,
		"Whoever has it reads the pages until %s, and writes nothing; it ends at once if this device is revoked.\n",
		until)
	for _, line := range l.trust() {
		fmt.Fprintln(w, line)
	}
}

// trust is how a reader knows that the pages are the site's; nothing where browsers know it.
func (l linked) trust() []string {
	if l.Certificate == "" {
		return nil
	}
	all := []string{
		"A browser asks once whether to trust the site's own certificate. Let it only if the SHA-256 fingerprint that it shows is",
		"  " + inPairs(l.Certificate),
		"It is that of the server as it runs now: when it starts again it shows another, and `hod link` tells which.",
	}
	if len(l.Words) > 0 {
		all = append(all,
			fmt.Sprintf(
				"A phone that is not to be asked installs the site's authority, from %s, if it shows these words:",
				l.Fetch),
			"  "+strings.Join(l.Words, " "))
	}
	return all
}

// inPairs is hex as browsers show a fingerprint.
func inPairs(digits string) string {
	var pairs []string
	for ; len(digits) >= 2; digits = digits[2:] {
		pairs = append(pairs, strings.ToUpper(digits[:2]))
	}
	return strings.Join(pairs, ":")
}
