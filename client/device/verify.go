package device

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"hod/client/journal"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view/daily"
)

// verify checks a record from nothing but the site's root key.
type verify struct{ file, day, rootKey string }

// NewVerify makes hod verify.
func NewVerify(env *session.Env) *cobra.Command {
	var v verify
	c := env.NewCommand("verify [FILE]", "Check the record, or an export of it, from the site's root key up",
		"hod verify", "hod verify vault.hodlog --day 2026-07-18")
	c.Long = "Checks every byte: chains, signatures, enrolments, gaps, forks; and says what it could not check. " +
		"With --day it prints a digest of the day's figures, computed anew from the events as the day ended: two people who get " +
		"the same digest have the same figures. A fault found ends with the exit code 5."
	c.Args = terminal.RangeArgs(0, 1, "at most one file")
	c.Flags().StringVar(&v.day, "day", "", "the digest of this day's figures, too")
	c.Flags().StringVar(&v.rootKey, "root-key", "",
		"the site's root key, 64 hexadecimal digits; else this device's own word, else the file's")
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 1 {
			v.file = args[0]
		}
		return v.run(c.Context(), env)
	}
	return c
}

// verified is the document hod.verify.v1.
type verified struct {
	File       string          `json:"file,omitempty"` // none: this device's own record
	Site       string          `json:"site"`
	Whole      bool            `json:"whole"`
	RootKey    string          `json:"root_key"`
	KeyFrom    string          `json:"root_key_from"` // "the command", "this device" or "the file"
	Segments   int             `json:"segments"`
	Events     int             `json:"events"`
	Devices    []inFile        `json:"devices"`
	Enrolled   int             `json:"enrolled"`
	Digest     string          `json:"digest,omitempty"`
	Record     string          `json:"record_digest,omitempty"` // of the events themselves; of a part there is none
	Day        *dayDigest      `json:"day,omitempty"`
	Checked    []string        `json:"checked"`
	NotChecked []string        `json:"not_checked"`
	Faults     []archive.Fault `json:"faults"`

	root event.Device
}

type dayDigest struct {
	Date   string `json:"date"`
	Zone   string `json:"time_zone"`
	Digest string `json:"digest"`
}

// trust is the key that everything follows from.
type trust struct {
	archive.Header
	from string
}

func (v verify) run(ctx context.Context, env *session.Env) error {
	doc, check, err := v.read(ctx, env)
	if err != nil {
		return err
	}
	done := check.Done(doc.Whole)
	doc.Segments, doc.Events, doc.Enrolled = done.Segments, len(done.Events), done.Enrolled
	doc.Devices, doc.Faults = []inFile{}, append([]archive.Fault{}, done.Faults...)
	for _, d := range done.Devices {
		doc.Devices = append(doc.Devices, inFile{string(d.Device), d.First, d.Last})
	}
	for _, m := range done.Missing {
		doc.NotChecked = append(doc.NotChecked,
			fmt.Sprintf("%v: not in the file; that what follows goes on from there is its writer's word", m))
	}
	if done.Unknown > 0 {
		doc.NotChecked = append(doc.NotChecked,
			fmt.Sprintf("what %s of kinds that this version does not know: kept, but without meaning here",
				terminal.Plural(done.Unknown, "event says", "events say")))
	}
	doc.NotChecked = append(doc.NotChecked,
		"whether a device wrote more than this: what never left it is known to it alone")
	if doc.Whole {
		doc.Record = chain.Digest(doc.Site, chain.HeadsOf(doc.Site, done.Events)).String()
	}
	if err := v.figures(env, done, &doc); err != nil {
		return err
	}
	if err := env.Print("verify", doc, func(w io.Writer) { sayVerified(w, doc) }); err != nil {
		return err
	}
	if n := len(doc.Faults); n > 0 {
		return &terminal.Error{
			Kind: terminal.Disk,
			Msg:  "the record is not as it was written: " + terminal.Plural(n, "fault", "faults") + " found",
		}
	}
	return nil
}

// read hands all that is to be checked to a check.
func (v verify) read(ctx context.Context, env *session.Env) (verified, *archive.Check, error) {
	var doc verified
	j, err := ownJournal(env)
	var kept *journal.Error
	if v.file == "" {
		if err != nil {
			return doc, nil, err
		}
		defer j.Close()
		return v.live(ctx, j)
	}
	if err != nil && (!errors.As(err, &kept) || kept.Kind != journal.Missing) {
		env.Hintf("this device's own record cannot be asked for the root key: %s", err.Error())
	}
	own := archive.Header{}
	if err == nil {
		d := j.Device()
		own = archive.Header{Site: d.Site, Root: d.Root, RootKey: d.RootKey}
		if err := j.Close(); err != nil {
			return doc, nil, err
		}
	}
	return v.export(own)
}

func ownJournal(env *session.Env) (*journal.Journal, error) {
	dir, err := env.Folder()
	if err != nil {
		return nil, err
	}
	return journal.Open(dir)
}

// live checks this device's own record: the file's structure, then every segment as it would be sent.
func (v verify) live(ctx context.Context, j *journal.Journal) (verified, *archive.Check, error) {
	d := j.Device()
	t, err := v.trusted(archive.Header{}, archive.Header{Site: d.Site, Root: d.Root, RootKey: d.RootKey})
	if err != nil {
		return verified{}, nil, err
	}
	doc := newVerified(t)
	doc.Whole = true
	doc.Checked = append([]string{"the journal's own structure"}, doc.Checked...)
	check := archive.NewCheck(t.Site, t.Root, t.RootKey)
	tables, err := j.Verify(ctx)
	if err != nil {
		return doc, nil, err
	}
	for _, what := range tables.Faults {
		check.Fault(archive.Damaged, -1, "%s", what)
	}
	heads, err := j.Heads(ctx)
	if err != nil {
		return doc, nil, err
	}
	slices.SortStableFunc(heads, func(a, b chain.Head) int { // this device's own last
		switch {
		case a.Device == d.Name && b.Device != d.Name:
			return 1
		case a.Device != d.Name && b.Device == d.Name:
			return -1
		}
		return 0
	})
	for _, h := range heads {
		if h.Device == d.Name && !check.Knows(d.Name) {
			doc.NotChecked = append(doc.NotChecked,
				"this device's own events: its enrolment has not come here yet; `hod sync` brings it")
			continue
		}
		root := chain.Head{Device: h.Device, Chain: chain.Root(d.Site, h.Device)}
		err := offered(ctx, j, root, func(seg chain.Segment) error { check.Add(seg, -1); return nil })
		var kept *journal.Error
		if errors.As(err, &kept) && kept.Kind == journal.Damaged {
			check.Fault(archive.Damaged, -1, "the record of %q cannot be read to its end: %s", h.Device, kept.Msg)
		} else if err != nil {
			return doc, nil, err
		}
	}
	return doc, check, nil
}

// export checks a file.
func (v verify) export(own archive.Header) (verified, *archive.Check, error) {
	f, head, r, err := openExport(v.file)
	if err != nil {
		return verified{}, nil, err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.Size() > maxVerified {
		return verified{}, nil,
			terminal.Usagef("%s has %d bytes; hod verifies files of at most %d: verify the folder with `hodd verify`",
				terminal.Safe(v.file), info.Size(), maxVerified)
	}
	t, err := v.trusted(head, own)
	if err != nil {
		return verified{}, nil, err
	}
	doc := newVerified(t)
	doc.File, doc.Whole = v.file, head.Whole
	doc.Checked = append([]string{"every byte's checksum", "the file's index and digest"}, doc.Checked...)
	if t.from == "the file" {
		doc.NotChecked = append(doc.NotChecked,
			"whether the root key is the site's: it is the file's own word; compare it with what the site's people have, or say it with --root-key")
	}
	check := archive.NewCheck(t.Site, t.Root, t.RootKey)
	if head.RootKey != nil && !head.RootKey.Equal(t.RootKey) {
		check.Fault(archive.Foreign, 0, "the file names another root key, %s", hex.EncodeToString(head.RootKey))
	}
	end, err := check.Read(r)
	if err != nil {
		return doc, nil, carried(v.file, err)
	}
	switch {
	case end.Torn != nil:
		check.Fault(archive.Damaged, end.Torn.At,
			"bytes %d to %d are not what was written, and the file's end is missing", end.Torn.At,
			end.Torn.At+end.Torn.Size-1)
	case end.Closing == nil:
		check.Fault(archive.Damaged, -1, "the file's end is missing: it is not closed")
	default:
		doc.Digest = end.Closing.Digest.String()
	}
	return doc, check, nil
}

// trusted is the root key that was said, or this device's, or the file's own, in this order.
func (v verify) trusted(file, own archive.Header) (trust, error) {
	same := file.Site == "" || file.Site == own.Site
	t := trust{file, "the file"}
	if own.Site != "" && same {
		t = trust{own, "this device"}
	}
	if v.rootKey != "" {
		key, err := hex.DecodeString(v.rootKey)
		if err != nil || len(key) != ed25519.PublicKeySize {
			return t,
				terminal.Usagef(
					"--root-key: a root key has %d hexadecimal digits, as `hodd verify` prints them, not %q",
					2*ed25519.PublicKeySize, terminal.Safe(v.rootKey))
		}
		t.RootKey, t.from = key, "the command"
	}
	if t.Root == "" || t.RootKey == nil {
		return t,
			terminal.Usagef(
				"%s is of an older form that does not say the site's root: verify it on a device of the site %q",
				terminal.Safe(v.file), terminal.Safe(file.Site))
	}
	return t, nil
}

func newVerified(t trust) verified {
	return verified{
		Site: t.Site, RootKey: hex.EncodeToString(t.RootKey), KeyFrom: t.from, NotChecked: []string{},
		Checked: []string{"chains", "signatures", "enrolments", "gaps", "forks"}, root: t.Root,
	}
}

// figures computes a day anew.
func (v verify) figures(env *session.Env, done archive.Checked, doc *verified) error {
	if v.day == "" {
		return nil
	}
	if !doc.Whole {
		doc.NotChecked = append(doc.NotChecked,
			"the figures of "+terminal.Safe(v.day)+": the file holds only a part of the record")
		return nil
	}
	s := &session.Session{Env: env, Now: env.Now(), Fold: fold.New(doc.Site, doc.root)}
	for _, e := range done.Events {
		s.Fold.Add(e)
	}
	s.Refresh()
	if s.Plan.TimeZone == "" {
		s.Location = time.UTC // the reader's own would give two people two days
	}
	date, err := s.ParseDate([]string{v.day})
	if err != nil {
		return terminal.InFlag("day", err)
	}
	digest, err := FiguresOf(s.Fold, date, s.Location)
	if err != nil {
		return err
	}
	doc.Day = &dayDigest{date, s.Location.String(), digest}
	doc.Checked = append(doc.Checked, "that the figures of "+date+" follow from the events")
	return nil
}

// FiguresOf is the digest of a day as it ended: SHA-256 of its view as JSON with sorted names, its numbers rounded to
// nine digits, since two machines may differ in the last.
func FiguresOf(f *fold.Site, date string, in *time.Location) (string, error) {
	day, err := time.ParseInLocation(time.DateOnly, date, in)
	if err != nil {
		return "", terminal.Usagef("--day %q is not a date; one looks like 2026-07-18", terminal.Safe(date))
	}
	end := day.AddDate(0, 0, 1)
	v, err := daily.DayOf(f.Until(end), end, in, date)
	if err != nil {
		return "", err
	}
	text, err := json.Marshal(v)
	if err != nil {
		return "", fmt.Errorf("encode the day: %w", err)
	}
	var doc any
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	if err := d.Decode(&doc); err != nil {
		return "", fmt.Errorf("decode the day: %w", err)
	}
	if text, err = json.Marshal(rounded(doc)); err != nil {
		return "", fmt.Errorf("encode the day: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

func rounded(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for k := range v {
			v[k] = rounded(v[k])
		}
	case []any:
		for i := range v {
			v[i] = rounded(v[i])
		}
	case json.Number:
		if f, err := v.Float64(); err == nil {
			return json.Number(strconv.FormatFloat(f, 'g', 9, 64))
		}
	}
	return v
}

func sayVerified(w io.Writer, doc verified) {
	what := "This device's record"
	if doc.File != "" {
		what = doc.File
	}
	part := ""
	if !doc.Whole {
		part = ", a part"
	}
	fmt.Fprintf(w, "%s of site %s%s: %s in %s of %s\n", what, doc.Site, part,
		terminal.Plural(doc.Events, "event", "events"), terminal.Plural(doc.Segments, "segment", "segments"),
		terminal.Plural(len(doc.Devices), "device", "devices"))
	fmt.Fprintf(w, "Root key %s, from %s\n", doc.RootKey, doc.KeyFrom)
	if doc.Digest != "" {
		fmt.Fprintf(w, "Digest of the file %s\n", doc.Digest)
	}
	if doc.Record != "" {
		fmt.Fprintf(w, "Digest of the record %s\n", doc.Record)
	}
	for _, c := range doc.Checked {
		fmt.Fprintln(w, "Checked: "+c)
	}
	for _, c := range doc.NotChecked {
		fmt.Fprintln(w, "Not checked: "+c)
	}
	if doc.Day != nil {
		fmt.Fprintf(w, "Figures of %s (%s): %s\n", doc.Day.Date, doc.Day.Zone, doc.Day.Digest)
	}
	for _, f := range doc.Faults {
		fmt.Fprintf(w, "Fault (%s): %s\n", f.Kind, f.What)
	}
	if len(doc.Faults) == 0 {
		fmt.Fprintln(w, "No fault found.")
	}
}
