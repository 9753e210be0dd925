package archive

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
)

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

func keyOf(name string) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte("archive " + name))
	return ed25519.NewKeyFromSeed(seed[:])
}

func public(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }

func header(whole bool) Header {
	return Header{Site: "vault", Whole: whole, Root: "site", RootKey: public(keyOf("site"))}
}

// author writes segments that follow each other.
type author struct {
	name event.Device
	key  ed25519.PrivateKey
	head chain.Head
}

func newAuthor(name event.Device) *author {
	return &author{name, keyOf(string(name)), chain.Head{Device: name, Chain: chain.Root("vault", name)}}
}

func (a *author) write(t testing.TB, bodies ...event.Body) chain.Segment {
	t.Helper()
	var run []event.Event
	for i, b := range bodies {
		e, err := event.Write(event.Event{
			Name:       event.Name{Device: a.name, Seq: a.head.Seq + uint64(i) + 1},
			HappenedAt: noon, LoggedAt: noon, Body: b,
		})
		if err != nil {
			t.Fatal(err)
		}
		run = append(run, e)
	}
	s, err := chain.Sign(a.key, "vault", a.head, run)
	if err != nil {
		t.Fatal(err)
	}
	a.head = s.After
	return s
}

func enrolled(name event.Device) event.Body {
	return event.DeviceEnrolled{
		Device: name, PublicKey: public(keyOf(string(name))), Role: event.CrewRole,
		Crew: "north",
	}
}

func note(n int) event.Body { return event.Noted{Text: fmt.Sprint("note ", n)} }

// record is a site's: the root enrols n1 and n2, and each writes.
func record(t testing.TB) []chain.Segment {
	t.Helper()
	site, n1, n2 := newAuthor("site"), newAuthor("n1"), newAuthor("n2")
	return []chain.Segment{
		site.write(t, enrolled("n1"), enrolled("n2")), n1.write(t, note(1), note(2)), n1.write(t, note(3)),
		n2.write(t, note(4)), n1.write(t, note(5)),
	}
}

func fileOf(t testing.TB, h Header, segments ...chain.Segment) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := NewWriter(&b, h)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range segments {
		if err := w.Add(s); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// checked reads a file as a stranger with the root key does.
func checked(data []byte) (Checked, Ending, error) {
	h, r, err := NewReader(bytes.NewReader(data))
	if err != nil {
		return Checked{}, Ending{}, err
	}
	c := NewCheck("vault", "site", public(keyOf("site")))
	end, err := c.Read(r)
	return c.Done(h.Whole), end, err
}

func kinds(c Checked) []Kind {
	var all []Kind
	for _, f := range c.Faults {
		all = append(all, f.Kind)
	}
	return all
}

func TestWhatIsWrittenIsReadAndVerifies(t *testing.T) {
	segments := record(t)
	data := fileOf(t, header(true), segments...)
	h, r, err := NewReader(iotest.OneByteReader(bytes.NewReader(data)))
	if err != nil || h.Site != "vault" || !h.Whole || h.Root != "site" || !h.RootKey.Equal(header(true).RootKey) {
		t.Fatalf("the header is %+v, %v", h, err)
	}
	for i, s := range segments {
		p, err := r.Next()
		if err != nil || !bytes.Equal(p.Segment, s.Bytes()) {
			t.Fatalf("piece %d is not the segment that was written: %v", i, err)
		}
	}
	p, err := r.Next()
	if err != nil || p.Closing == nil || !p.Closing.Sound || p.At+p.Size != int64(len(data)) {
		t.Fatalf("the last piece is %+v, %v; want a sound closing", p, err)
	}
	want := []Reach{
		{"n1", 1, 4, segments[4].After.Chain},
		{"n2", 1, 1, segments[3].After.Chain},
		{"site", 1, 2, segments[0].After.Chain},
	}
	if !slices.Equal(p.Closing.Index, want) {
		t.Errorf("the index is %+v, want %+v", p.Closing.Index, want)
	}
	if _, err := r.Next(); !errors.Is(err, io.EOF) {
		t.Errorf("after the closing: %v", err)
	}
	c, end, err := checked(data)
	if err != nil || len(c.Faults) > 0 || len(c.Events) != 7 || c.Segments != 5 || c.Enrolled != 3 ||
		end.Closing == nil || !slices.Equal(c.Devices, want) {
		t.Errorf("checked: %+v, %v, %v", c, end, err)
	}
}

// A byte changed anywhere is found, and where it lies is said.
func TestAByteChangedAnywhereIsFoundAndNamed(t *testing.T) {
	data := fileOf(t, header(true), record(t)...)
	head := len(header(true).Bytes())
	for at := range data {
		for _, flip := range []byte{1, 0x80, 0xff} {
			bad := bytes.Clone(data)
			bad[at] ^= flip
			c, end, err := checked(bad)
			if at < head {
				if err == nil {
					t.Errorf("byte %d of the header changed by %#x: not found", at, flip)
				}
				continue
			}
			named := end.Torn != nil && end.Torn.At <= int64(at)
			for _, f := range c.Faults {
				named = named || f.At <= int64(at) && f.At >= int64(head)
			}
			if err != nil || !named {
				t.Errorf("byte %d changed by %#x: %v, faults %+v; want one that names it", at, flip, err, c.Faults)
			}
		}
	}
}

// A file that ends early never passes for a whole one, and what is left of it is read as nothing else: the rest of a
// closing is no record.
func TestAFileCutAnywhereIsFound(t *testing.T) {
	segments := record(t)
	data := fileOf(t, header(true), segments...)
	for n := range data {
		if _, r, err := NewReader(bytes.NewReader(data[:n])); err == nil {
			for p, err := r.Next(); err == nil; p, err = r.Next() {
				if p.Segment != nil && !slices.ContainsFunc(segments,
					func(s chain.Segment) bool { return bytes.Equal(s.Bytes(), p.Segment) }) {
					t.Errorf("cut to %d of %d bytes: at %d a record of %d bytes is read that nobody wrote", n,
						len(data), p.At, p.Size)
				}
			}
		}
		c, end, err := checked(data[:n])
		if err == nil && end.Closing != nil && len(c.Faults) == 0 {
			t.Errorf("cut to %d of %d bytes: not found", n, len(data))
		}
	}
}

// forge makes a file right again in all but the signatures: checksums, index and digest.
func TestWhatIsRightInAllButTheSignatureIsFound(t *testing.T) {
	segments := record(t)
	thief := newAuthor("n2")
	thief.key = keyOf("thief")
	c, _, err := checked(fileOf(t, header(true), append(segments[:3:3], thief.write(t, note(9)), segments[4])...))
	if err != nil || !slices.Equal(kinds(c), []Kind{Forged}) ||
		!strings.Contains(c.Faults[0].What, `"n2" from 1 to 1, at byte`) {
		t.Errorf("got %+v, %v; want one forged segment, named", c.Faults, err)
	}
}

func TestWhatACheckFinds(t *testing.T) {
	s := record(t)
	site, n1 := newAuthor("site"), newAuthor("n1")
	site.write(t, enrolled("n1"), enrolled("n2"))
	other := n1.write(t, note(1), note(77)) // the second event differs
	stranger := newAuthor("x9").write(t, note(1))
	reef := newAuthor("n1")
	reef.head.Chain = chain.Root("reef", "n1")
	e := s[1].Events[:1]
	foreign, err := chain.Sign(reef.key, "reef", reef.head, e)
	if err != nil {
		t.Fatal(err)
	}
	merged, err := chain.Sign(keyOf("n1"), "vault", s[1].Before, slices.Concat(s[1].Events, s[2].Events))
	if err != nil {
		t.Fatal(err)
	}
	for name, tc := range map[string]struct {
		whole    bool
		segments []chain.Segment
		want     []Kind
		events   int
		missing  int
	}{
		"all of it":                           {true, s, nil, 7, 0},
		"the enrolments last":                 {true, []chain.Segment{s[1], s[2], s[3], s[4], s[0]}, nil, 7, 0},
		"each twice":                          {true, slices.Concat(s, s), nil, 7, 0},
		"other boundaries":                    {true, append(slices.Clone(s), merged), nil, 7, 0},
		"a segment missing in the middle":     {true, []chain.Segment{s[0], s[1], s[3], s[4]}, []Kind{Gap}, 6, 0},
		"the same in a part":                  {false, []chain.Segment{s[0], s[1], s[3], s[4]}, nil, 6, 1},
		"a part that begins late":             {false, []chain.Segment{s[0], s[4]}, nil, 3, 1},
		"the same of a whole":                 {true, []chain.Segment{s[0], s[4]}, []Kind{Gap}, 3, 0},
		"two histories":                       {true, append(slices.Clone(s), other), []Kind{Forked}, 7, 0},
		"of a device that nobody enrolled":    {true, append(slices.Clone(s), stranger), []Kind{Stranger}, 7, 0},
		"without the enrolments":              {true, s[1:], []Kind{Stranger, Stranger, Stranger, Stranger}, 0, 0},
		"of another site with the same names": {true, append(slices.Clone(s), foreign), []Kind{Foreign}, 7, 0},
	} {
		t.Run(name, func(t *testing.T) {
			c, _, err := checked(fileOf(t, header(tc.whole), tc.segments...))
			if err != nil || !slices.Equal(kinds(c), tc.want) || len(c.Events) != tc.events ||
				len(c.Missing) != tc.missing {
				t.Errorf("faults %+v, %d events, missing %v, %v; want %v, %d, %d", c.Faults, len(c.Events), c.Missing,
					err, tc.want, tc.events, tc.missing)
			}
		})
	}
}

// A device that the root did not enrol enrols nobody.
func TestOnlyTheRootsWordEnrols(t *testing.T) {
	s := record(t)
	n2 := newAuthor("n2")
	n2.write(t, note(4))
	c, _, err := checked(fileOf(t, header(true),
		append(s, n2.write(t, enrolled("x9")), newAuthor("x9").write(t, note(1)))...))
	if err != nil || !slices.Equal(kinds(c), []Kind{Stranger}) {
		t.Errorf("got %+v, %v", c.Faults, err)
	}
}

// Files of the first form, and files that are not closed, are read; a file of the first form is closed as it is.
func TestTheFirstFormIsRead(t *testing.T) {
	b := binary.LittleEndian.AppendUint16([]byte("hodlog"), 1)
	b = appendText(b, "vault")
	b = binary.LittleEndian.AppendUint32(b, crcOf(b))
	for _, s := range record(t) {
		b = AppendEntry(b, s.Bytes())
	}
	h, _, err := NewReader(bytes.NewReader(b))
	if err != nil || h.Site != "vault" || h.RootKey != nil || h.Whole {
		t.Fatalf("the header is %+v, %v", h, err)
	}
	c, end, err := checked(b)
	if err != nil || len(c.Events) != 7 || len(c.Faults) > 0 || end.Closing != nil || end.Torn != nil {
		t.Errorf("open: %+v, %+v, %v", c, end, err)
	}
	closing, err := Close(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	c, end, err = checked(append(bytes.Clone(b), closing...))
	if err != nil || len(c.Events) != 7 || len(c.Faults) > 0 || end.Closing == nil || !end.Closing.Sound {
		t.Errorf("closed: %+v, %+v, %v", c, end, err)
	}
	if _, err := Close(bytes.NewReader(b[:len(b)-1])); !errors.Is(err, ErrNotSound) {
		t.Errorf("a torn file is closed: %v", err)
	}
}

func TestWhatIsNoHeader(t *testing.T) {
	newer := header(true).Bytes()
	newer[6] = Version + 1
	long := append([]byte("hodlog\x02\x00"), 0xff, 0xff)
	for name, tc := range map[string]struct {
		data []byte
		want error
	}{
		"nothing":              {nil, ErrHeader},
		"another file":         {[]byte("PK\x03\x04 and so on"), ErrForeign},
		"a newer form":         {newer, ErrNewer},
		"a name without end":   {append(long, make([]byte, 1<<16)...), ErrHeader},
		"a header that is cut": {header(true).Bytes()[:20], ErrHeader},
		"a header that was changed": {
			bytes.Replace(header(true).Bytes(), []byte("vault"), []byte("fault"), 1),
			ErrHeader,
		},
	} {
		if _, _, err := NewReader(bytes.NewReader(tc.data)); !errors.Is(err, tc.want) {
			t.Errorf("%s: got %v, want %v", name, err, tc.want)
		}
	}
	if _, err := NewWriter(io.Discard, Header{Site: "vault"}); err == nil {
		t.Error("a file without a root key is begun")
	}
}

// After damage the next record is found, and nothing is read that was not written.
func TestDamageCostsWhatItTouched(t *testing.T) {
	s := record(t)
	head := header(true).Bytes()
	data := bytes.Clone(head)
	for _, seg := range s {
		data = AppendEntry(data, seg.Bytes())
	}
	third := len(head) + len(AppendEntry(nil, s[0].Bytes())) + len(AppendEntry(nil, s[1].Bytes()))
	clear(data[third : third+5])
	r := After(head, bytes.NewReader(data[len(head):]))
	var got []string
	for {
		p, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		got = append(got, fmt.Sprint(p.At, p.Size, p.Damage()))
	}
	want := fmt.Sprint(third, len(AppendEntry(nil, s[2].Bytes())), true)
	if len(got) != 5 || got[2] != want {
		t.Errorf("pieces %q, want the third to be %q", got, want)
	}
}

func FuzzRead(f *testing.F) {
	whole := fileOf(f, header(true), record(f)...)
	f.Add(whole)
	f.Add(whole[:len(whole)-20])
	f.Add(header(false).Bytes())
	f.Add(append(header(true).Bytes(), bytes.Repeat([]byte{0, 0xff, 0, 0}, 64)...))
	f.Add(append(header(true).Bytes(), 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 3, 0, 1, 2, 3, 4))
	f.Fuzz(func(t *testing.T, data []byte) {
		head, raw, err := ReadHeader(bytes.NewReader(data))
		if err != nil {
			return
		}
		if head.Site == "" || len(raw) > len(data) {
			t.Fatalf("header %+v of %d bytes", head, len(raw))
		}
		r, at := After(raw, bytes.NewReader(data[len(raw):])), int64(len(raw))
		for {
			p, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil || p.At != at || p.Size <= 0 {
				t.Fatalf("after %d bytes the piece %+v, %v", at, p, err)
			}
			if p.Segment != nil && !bytes.Equal(AppendEntry(nil, p.Segment), data[at:at+p.Size]) {
				t.Fatal("a segment that is not what lies in the file")
			}
			at += p.Size
		}
		if at != int64(len(data)) {
			t.Fatalf("%d bytes accounted for of %d", at, len(data))
		}
		if _, _, err := checked(data); err != nil {
			t.Fatal(err)
		}
	})
}

func crcOf(b []byte) uint32 { return crc32.Checksum(b, castagnoli) }
