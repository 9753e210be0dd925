package device

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/client/journal"
	"hod/client/remote"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/event"
)

// join lets this device into a site.
type joining struct{ code, crew, label string }

// NewJoin makes hod join.
func NewJoin(env *session.Env) *cobra.Command {
	var j joining
	c := env.NewCommand("join CODE", "Join a site with the code that the foreman gave",
		`hod join hod.example:7420/4GQ0-…-9ZTR --crew north --label "north tablet"`)
	c.Long = `The code holds the server's address, a secret that is good once, and the mark
by which this device knows the server.

On a device that has joined already: where the server was restored from a
backup and does not know this device any more, or moved to another address, a
new code lets it in again under its own name, with all that it holds.`
	c.Args = terminal.MinimumArgs(1, "the code")
	c.Flags().StringVar(&j.crew, "crew", "", "the crew that this device belongs to, where the code does not say it")
	c.Flags().StringVar(&j.label, "label", "", "what people call this device")
	c.RunE = func(c *cobra.Command, args []string) error {
		j.code = strings.Join(args, " ")
		return j.run(c.Context(), env)
	}
	return c
}

// joined is the document hod.joined.v1.
type joined struct {
	Site   string `json:"site"`
	Device string `json:"device"`
	Crew   string `json:"crew,omitempty"`
	Role   string `json:"role"`
	Server string `json:"server"`
	Dir    string `json:"dir"`
	// Fetched counts the events that came at once; none where the stream could not be reached yet.
	Fetched int `json:"fetched"`
}

// joinTime is how long a server may take to let a device in.
const joinTime = 20 * time.Second

// joiningFile holds the key of a device that is about to join. It stays where the answer of the server was lost, so
// that the same code lets the same key in when it is tried again.
const joiningFile = "joining.key"

func (j joining) run(ctx context.Context, env *session.Env) error {
	code, err := auth.ParseCode(j.code)
	if err != nil {
		return terminal.Usagef("%v", err)
	}
	dir, err := env.Folder()
	if err != nil {
		return err
	}
	record, err := recordIn(dir)
	if err != nil {
		return err
	}
	if record != nil {
		defer record.Close()
		return j.again(ctx, env, dir, record, code)
	}
	key, err := joiningKey(env, dir)
	if err != nil {
		return err
	}
	calling, cancel := context.WithTimeout(ctx, joinTime)
	defer cancel()
	d, err := remote.Join(calling, code, remote.Newcomer{Key: key, Crew: event.Crew(j.crew), Label: j.label})
	if err != nil {
		return notLetIn(err, code)
	}
	if record, err = journal.Create(dir, d); err != nil {
		return err
	}
	if err := record.Close(); err != nil {
		return fmt.Errorf("close the new journal: %w", err)
	}
	_ = os.Remove(filepath.Join(dir, joiningFile)) // the journal has the key now; at worst the file stays
	doc := joined{d.Site, string(d.Name), string(d.Crew), d.Role.String(), d.Server, dir, firstContact(ctx, env)}
	return env.Print("joined", doc, func(w io.Writer) {
		crew := ""
		if doc.Crew != "" {
			crew = " of crew " + doc.Crew
		}
		next := "`hod sync` fetches the plan."
		if doc.Fetched > 0 {
			next = terminal.Plural(doc.Fetched, "event of the site's record is", "events of the site's record are") +
				" here already."
		}
		fmt.Fprintf(w, "This device is %s%s (%s) on site %s. Its record lies in %s. %s\n", doc.Device, crew, doc.Role,
			doc.Site, dir, next)
	})
}

// firstContact fetches what the site has, so that this device knows its own enrolment and the plan. The device has
// joined by then: what fails here is only told. It counts what came.
func firstContact(ctx context.Context, env *session.Env) int {
	if env.Getenv("HOD_SYNC") == "off" {
		return 0
	}
	fetched, err := fetchAll(ctx, env)
	if err != nil {
		env.Hintf("the site's record could not be fetched yet; `hod sync` tries again")
	}
	return fetched
}

// fetchAll meets the server until this device's own enrolment has come: the server may still be writing it down.
func fetchAll(ctx context.Context, env *session.Env) (fetched int, err error) {
	s, err := session.Open(ctx, env)
	if err != nil {
		return 0, err
	}
	defer s.Close()
	for range firstTries {
		var road *remote.Session
		if road, err = remote.Open(ctx, s.Journal); err == nil {
			out, bad := env.ContactWhile(ctx, road, joinTime)
			road.Close()
			fetched, err = fetched+out.Pulled, bad
		}
		if err == nil {
			if err = s.Reload(ctx); err == nil && enrolled(s) {
				return fetched, nil
			}
		}
		pause(ctx, firstPause)
		if ctx.Err() != nil {
			break
		}
	}
	if err == nil {
		err = fmt.Errorf("the enrolment of %s has not come", s.Device.Name)
	}
	return fetched, err
}

// How often, and after what pause, a device that has just joined looks for its enrolment.
const (
	firstTries = 5
	firstPause = 300 * time.Millisecond
)

// enrolled says whether the record holds this device's enrolment.
func enrolled(s *session.Session) bool {
	for _, d := range s.Fold.Devices() {
		if d.Name == s.Device.Name {
			return true
		}
	}
	return false
}

// recordIn opens the record that a folder holds; nil where it holds none.
func recordIn(dir string) (*journal.Journal, error) {
	record, err := journal.Open(dir)
	var e *journal.Error
	if errors.As(err, &e) && e.Kind == journal.Missing {
		return nil, nil
	}
	return record, err
}

// again lets a device in that its server does not know any more, with its key, its name and its record as they are, and
// learns where the server is now. A server that knows it does not use the code up, nor does one of another site.
func (j joining) again(ctx context.Context, env *session.Env, dir string, record *journal.Journal,
	code auth.Code,
) error {
	was := record.Device()
	if j.crew != "" && event.Crew(j.crew) != was.Crew {
		return terminal.Refusedf(
			"%s holds the record of device %s of crew %s on site %s; to join crew %s, or another site, use another folder, with --dir", dir, was.Name, was.Crew, was.Site, j.crew)
	}
	enrolment, err := record.Enrolment(ctx)
	if err != nil {
		return err
	}
	calling, cancel := context.WithTimeout(ctx, joinTime)
	defer cancel()
	d, err := remote.Join(calling, code, remote.Newcomer{
		Enrolment: enrolment, Key: was.Key, Crew: was.Crew,
		Label: j.label, Name: was.Name, Site: was.Site, Role: was.Role,
	})
	if err != nil {
		return notLetIn(err, code)
	}
	if d.Name != was.Name || d.Site != was.Site || !d.RootKey.Equal(was.RootKey) || d.Role != was.Role {
		return terminal.Refusedf(
			"the server let this device in as %s (%s) of site %s, and it is %s (%s) of %s: nothing was changed here; the server is another, or its hodd is older than this hod",
			d.Name, d.Role, d.Site, was.Name, was.Role, was.Site)
	}
	if err := record.SetServer(ctx, d.Server, d.Bus, d.CA); err != nil {
		return err
	}
	if err := record.Close(); err != nil {
		return fmt.Errorf("close the journal: %w", err)
	}
	doc := joined{d.Site, string(d.Name), string(was.Crew), d.Role.String(), d.Server, dir, firstContact(ctx, env)}
	return env.Print("joined", doc, func(w io.Writer) {
		fmt.Fprintf(w, "The server at %s lets this device in as %s. What it holds goes there with `hod sync`.\n",
			doc.Server, doc.Device)
	})
}

// joiningKey is the key with which this device joins; it is on the disk before any server hears of it.
func joiningKey(env *session.Env, dir string) (ed25519.PrivateKey, error) {
	if err := journal.MakeFolder(dir); err != nil {
		return nil, unwritable(dir, err)
	}
	path := filepath.Join(dir, joiningFile)
	if text, err := os.ReadFile(path); err == nil {
		if seed, err := hex.DecodeString(strings.TrimSpace(string(text))); err == nil && len(seed) == ed25519.SeedSize {
			return ed25519.NewKeyFromSeed(seed), nil
		}
	}
	_, key, err := ed25519.GenerateKey(env.Random)
	if err != nil {
		return nil, fmt.Errorf("make this device's key: %w", err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return nil, unwritable(dir, err)
	}
	_, err = f.WriteString(hex.EncodeToString(key.Seed()) + "\n")
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return nil, unwritable(dir, err)
	}
	return key, nil
}

func unwritable(dir string, err error) error {
	why := "see who owns it, or name another with --dir"
	if !errors.Is(err, fs.ErrPermission) {
		why = "name another with --dir"
	}
	return &terminal.Error{
		Kind: terminal.Disk,
		Msg:  fmt.Sprintf("%s cannot be written (%v), so this device cannot join: %s", dir, err, why), Err: err,
	}
}

// notLetIn says in words why the server did not let the device in.
func notLetIn(err error, code auth.Code) error {
	if errors.Is(err, remote.ErrImpostor) {
		return &terminal.Error{
			Kind: terminal.Refused,
			Msg: fmt.Sprintf(
				"the server at %s is not the one that the code is from, and was told nothing; compare the code with the one shown, or ask the foreman for a new one", code.Address), Err: err,
		}
	}
	var dates *auth.OutOfDateError
	if errors.As(err, &dates) {
		return &terminal.Error{Kind: terminal.Offline, Msg: fmt.Sprintf("this device cannot join at %s now: %v",
			code.Address, dates), Err: err}
	}
	st := status.Convert(err)
	switch st.Code() {
	case codes.Unavailable, codes.DeadlineExceeded:
		return &terminal.Error{
			Kind: terminal.Offline,
			Msg: fmt.Sprintf(
				"no server answers at %s; joining needs the network this once: see that hodd runs there, and that this device is on its network", code.Address), Err: err,
		}
	case codes.PermissionDenied, codes.Unauthenticated, codes.AlreadyExists, codes.FailedPrecondition,
		codes.ResourceExhausted, codes.Aborted:
		return &terminal.Error{
			Kind: terminal.Refused, Msg: "the server did not let this device in: " + st.Message(),
			Err: err,
		}
	case codes.InvalidArgument:
		return &terminal.Error{
			Kind: terminal.Usage, Msg: "the server did not let this device in: " + st.Message(),
			Err: err,
		}
	}
	return &terminal.Error{Kind: terminal.Internal, Msg: fmt.Sprintf("joining at %s failed: %s", code.Address,
		st.Message()), Err: err}
}

// rekeyed is the document hod.rekeyed.v1.
type rekeyed struct {
	Was     string `json:"was"`
	Device  string `json:"device"`
	LastSeq uint64 `json:"last_seq"` // of what stands under the old name
	// Cut counts the events that another command wrote under the old name while the key was replaced: they do not
	// stand.
	Cut uint64 `json:"cut"`
}

// NewRekey makes hod rekey.
func NewRekey(env *session.Env) *cobra.Command {
	c := env.NewCommand("rekey", "Give this device a new key, and end the old one", "hod rekey")
	c.Long = `For a key that may have been copied: from a backup, or by who had the device
for a while. The device gets a new name with the new key; what it wrote stays
under the old name, which nobody can write under any more. It needs the network,
and first sends what waits. If the answer is lost, run it again.`
	c.Args = cobra.NoArgs
	c.RunE = func(c *cobra.Command, _ []string) error { return rekey(c.Context(), env) }
	return c
}

func rekey(ctx context.Context, env *session.Env) error {
	s, err := session.Open(ctx, env)
	if err != nil {
		return err
	}
	defer s.Close()
	calling, cancel := context.WithTimeout(ctx, joinTime)
	defer cancel()
	if err := sendAll(calling, s); err != nil {
		return err
	}
	key, err := s.Journal.NextKey(env.Random)
	if err != nil {
		return err
	}
	name, last, err := remote.ReplaceKey(calling, s.Device, key, s.ClockNow)
	if err != nil {
		if status.Code(err) == codes.Unavailable {
			return s.Unanswered(calling, err)
		}
		return session.ServerError(err, s.Device.Server)
	}
	if err := s.Journal.GoOnAs(ctx, name); err != nil {
		return err
	}
	doc := rekeyed{Was: string(s.Device.Name), Device: string(name), LastSeq: last}
	if head, err := s.Journal.Head(ctx, s.Device.Name); err == nil && head.Seq > last {
		doc.Cut = head.Seq - last
	}
	firstContact(calling, env)
	return env.Print("rekeyed", doc, func(w io.Writer) {
		fmt.Fprintf(w, "This device is %s from now on; %s. The old key opens nothing any more.\n", doc.Device,
			doc.stays())
		if doc.Cut > 0 {
			fmt.Fprintf(w,
				"%s written as %s while the key was replaced, from %s/%d on, and do not stand: `hod log` shows them; write them again.\n",
				terminal.Plural(int(doc.Cut), "event was", "events were"), doc.Was, doc.Was, last+1)
		}
	})
}

// stays says what there is of the old name.
func (r rekeyed) stays() string {
	if r.LastSeq == 0 {
		return "it wrote nothing as " + r.Was
	}
	return fmt.Sprintf("what it wrote as %s stays, to %s/%d", r.Was, r.Was, r.LastSeq)
}

// sendAll brings the server all that this device wrote. Where a replacement of its key was begun and the server lets
// the old one in no more, there is nothing left to send.
func sendAll(ctx context.Context, s *session.Session) error {
	road, err := remote.Open(ctx, s.Journal)
	var e *bus.Error
	if errors.As(err, &e) && e.Kind == bus.Refused && s.Journal.HasNextKey() {
		return nil
	}
	if err == nil {
		defer road.Close()
		_, err = road.Contact(ctx, s.Env.Clock())
	}
	if err != nil {
		return offline(ctx, s, err)
	}
	if s.Contact, err = s.Journal.Contact(ctx); err != nil {
		return err
	}
	st, err := s.Journal.Status(ctx)
	if err != nil {
		return err
	}
	if st.Kept > st.AtServer || st.Forked {
		return &terminal.Error{
			Kind: terminal.Offline,
			Msg: fmt.Sprintf("%s not at the server yet: run `hod sync` first, or they would not stand",
				terminal.Plural(int(st.Kept-st.AtServer), "event is", "events are")),
		}
	}
	return nil
}
