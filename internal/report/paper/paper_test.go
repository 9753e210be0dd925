package paper

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/report/summary"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/view/drawing"
	"hod/internal/view/handover"
)

// made is the invented vault after its hot day, which every test reads and none changes.
var made = sync.OnceValues(func() (*fold.Site, error) {
	in, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		return nil, err
	}
	job, err := sim.Vault(in)
	if err != nil {
		return nil, err
	}
	work, err := job.Work()
	if err != nil {
		return nil, err
	}
	events, err := simtest.Written(job.Plan, work, job.First.Add(-12*time.Hour))
	if err != nil {
		return nil, err
	}
	s := fold.New("aldeira", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	return s, nil
})

// vault is the site, its clock and where it is.
func vault(t *testing.T) (*fold.Site, time.Time, report.Page) {
	t.Helper()
	s, err := made()
	if err != nil {
		t.Fatal(err)
	}
	in, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2031, 5, 14, 7, 0, 0, 0, in)
	return s, now, report.Page{In: in, Now: now}
}

func hotDay(t *testing.T) (drawing.DayLeaf, report.Page) {
	t.Helper()
	s, now, p := vault(t)
	v, err := drawing.DayLeafOf(s, now, p.In, "2031-05-13")
	if err != nil {
		t.Fatal(err)
	}
	return v, p
}

// read is the text of a PDF, as another program finds it.
func read(t *testing.T, pdf []byte) string {
	t.Helper()
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("not checked: there is no pdftotext to read the PDF with")
	}
	c := exec.Command(program, "-layout", "-", "-")
	c.Stdin = bytes.NewReader(pdf)
	text, err := c.Output()
	if err != nil {
		t.Fatalf("pdftotext: %v", err)
	}
	return string(text)
}

func TestTheSameRecordGivesTheSameBytes(t *testing.T) {
	v, p := hotDay(t)
	first, err := Day(v, p, A4, "00")
	if err != nil {
		t.Fatal(err)
	}
	second, err := Day(v, p, A4, "00")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first.PDF, second.PDF) {
		t.Error("the same day gave two files")
	}
	if now := time.Now().UTC().Format("D:20060102"); bytes.Contains(first.PDF, []byte(now)) {
		t.Errorf("the file holds the day of its printing, %s", now)
	}
	if !bytes.Contains(first.PDF, []byte("/CreationDate (D:20310513")) {
		t.Error("the file does not say when the newest of its record was written")
	}
}

func TestADayFitsTwoPagesAndItsAnnexFollows(t *testing.T) {
	v, p := hotDay(t)
	for len(v.Flags) < 200 { // a day on which all went wrong
		v.Flags = append(v.Flags, v.Flags...)
		v.Joints = append(v.Joints, v.Joints...)
		v.Notes = append(v.Notes, v.Notes...)
	}
	for _, size := range []Size{Letter, A4} {
		made, err := Day(v, p, size, "ab12")
		if err != nil {
			t.Fatal(err)
		}
		if len(made.Pages) != 2 || made.Pages[0] > 2 || made.Pages[1] < 2 {
			t.Errorf("%s: pages of the parts %v, want two at most and an annex", size, made.Pages)
		}
	}
}

func TestEachPageSaysWhatItIsOfAndWhichItIs(t *testing.T) {
	v, p := hotDay(t)
	made, err := Day(v, p, Letter, strings.Repeat("ab12", 16))
	if err != nil {
		t.Fatal(err)
	}
	pages := strings.Split(strings.TrimSuffix(read(t, made.PDF), "\f"), "\f")
	if len(pages) != made.Pages[0]+made.Pages[1] {
		t.Fatalf("%d pages, want %v", len(pages), made.Pages)
	}
	for i, text := range pages {
		for _, want := range []string{v.Site, "day 2031-05-13", strings.Repeat("ab12", 16), fmt.Sprintf("page %d of %d",
			i+1, len(pages))} {
			if !strings.Contains(text, want) {
				t.Errorf("page %d does not say %q:\n%s", i+1, want, text)
			}
		}
	}
	if first := pages[0] + pages[1]; strings.Contains(first, "--all") {
		t.Errorf("paper cannot be asked for more by a flag:\n%s", first)
	}
	if !strings.Contains(pages[0]+pages[1], "inspector") {
		t.Error("there is no line for the inspector to sign")
	}
}

func TestATableSaysItsHeadOnEachPageAndBreaksNoRow(t *testing.T) {
	var b strings.Builder
	b.WriteString(`<table><tr><th>batch</th><th class="right">unit weight</th></tr>`)
	const rows = 120
	for range rows {
		b.WriteString(`<tr><td>begins ` + strings.Repeat("and goes on ", 22) +
			`ends</td><td class="right">2149&nbsp;kg/m³</td></tr>`)
	}
	b.WriteString(`</table>`)
	made, err := Make(Document{Size: A4, Site: "vault", Title: "table", Parts: []Part{{Markup: b.String()}}})
	if err != nil {
		t.Fatal(err)
	}
	pages := strings.Split(strings.TrimSuffix(read(t, made.PDF), "\f"), "\f")
	if len(pages) < 3 {
		t.Fatalf("%d pages", len(pages))
	}
	all := 0
	for i, text := range pages {
		begun, ended := strings.Count(text, "begins"), strings.Count(text, "ends")
		if begun != ended || begun == 0 {
			t.Errorf("page %d begins %d rows and ends %d", i+1, begun, ended)
		}
		if strings.Count(text, "unit weight") != 1 {
			t.Errorf("page %d does not say the table's head once", i+1)
		}
		all += begun
	}
	if all != rows {
		t.Errorf("%d rows, want %d", all, rows)
	}
}

func TestARowHigherThanAPageLosesNothing(t *testing.T) {
	long := strings.Repeat("word ", 9000) + "last"
	made, err := Make(Document{
		Size:  Letter,
		Parts: []Part{{Markup: "<table><tr><th>note</th></tr><tr><td>" + long + "</td></tr></table><p>after</p>"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	text := read(t, made.PDF)
	if n := strings.Count(text, "word"); n != 9000 || !strings.Contains(text, "last") ||
		!strings.Contains(text, "after") {
		t.Errorf("%d words of 9000", n)
	}
}

func TestNamesOfEveryKindStandOnPaper(t *testing.T) {
	for name, c := range map[string]struct{ says, want string }{
		"markup":             {"<b>A1</b> & <script>x</script>", "<b>A1</b> & <script>x</script>"},
		"from right to left": {"אבג 12 דה", "אבג"},
		"200 letters":        {strings.Repeat("vaultname", 22) + "ab", "vaultname"},
		"none of the face":   {"橋 42", "\ufffd 42"},
		"beyond 16 bits":     {"𝔸 43", "\ufffd 43"},
	} {
		v, p := hotDay(t)
		v.Site, v.Tests, v.Flags, v.Joints = c.says, nil, nil, nil
		v.Crews[0].Name = c.says
		p.HTML = true
		made, err := Make(Document{
			Size: Letter, Site: c.says, Title: "day",
			Parts: []Part{{Markup: summary.DayBrief(v.Day, p, 0)}},
		})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		text := strings.NewReplacer("\u202a", "", "\u202b", "", "\u202c", "", "\u200e", "", "\u200f",
			"").Replace(read(t, made.PDF))
		if !strings.Contains(text, c.want) {
			t.Errorf("%s: the paper does not say %q:\n%.900s", name, c.want, text)
		}
	}
}

func TestWordsFromTheRightAreTurnedAndTheFiguresAroundThemKeepTheirPlace(t *testing.T) {
	for says, want := range map[string]string{
		"crown (אבג 12 דה), 4 people": "crown (הד 12 גבא), 4 people",
		"אבג-דה: 5 of 15 mm":          "הד-גבא: 5 of 15 mm",
		"zone A1, 485 L":              "zone A1, 485 L",
		"":                            "",
	} {
		if got := seen(says); got != want {
			t.Errorf("%q is seen as %q, want %q", says, got, want)
		}
	}
}

func TestWhatTheTypefaceHasNotIsSaid(t *testing.T) {
	made, err := Make(Document{Size: A4, Parts: []Part{{Markup: "<p>橋 and 橋 and 梁</p>"}}})
	if err != nil {
		t.Fatal(err)
	}
	if text := read(t, made.PDF); !strings.Contains(text, "2 different letters") {
		t.Errorf("it is not said that two letters are missing:\n%s", text)
	}
}

func TestEachToneOfAPictureHasAGrey(t *testing.T) {
	tones := regexp.MustCompile(`var\(--([a-z0-9]+)\)`).FindAllStringSubmatch(picture.Style, -1)
	if len(tones) < 8 {
		t.Fatalf("only %d tones were found", len(tones))
	}
	for _, m := range tones {
		if _, known := greys[m[1]]; !known {
			t.Errorf("the style of pictures has a tone %q that paper has no grey for", m[1])
		}
	}
}

func TestAPathIsReadAsPicturesWriteIt(t *testing.T) {
	got := steps("M1 2 3 4h5v-6l1 1zM0 0L2 2")
	want := [][]step{{{1, 2}, {3, 4}, {8, 4}, {8, -2}, {9, -1}, {closes, 0}}, {{0, 0}, {2, 2}}}
	if len(got) != len(want) {
		t.Fatalf("%v, want %v", got, want)
	}
	for i := range want {
		for k := range want[i] {
			if got[i][k] != want[i][k] {
				t.Errorf("outline %d, point %d: %v, want %v", i, k, got[i][k], want[i][k])
			}
		}
	}
}

func TestTheRecordOnPaperSaysWhatWasPlacedOfWhatAndHowItIsVerified(t *testing.T) {
	s, now, p := vault(t)
	v := handover.Of(s, now, p.In)
	proof := Proof{
		Digest: strings.Repeat("d1", 32), RootKey: strings.Repeat("a0", 32),
		Reaches: []Reach{{"n1", 145, strings.Repeat("0f", 32)}},
	}
	made, err := Record(v, p, A4, proof)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Record(v, p, A4, proof)
	if err != nil || !bytes.Equal(made.PDF, again.PDF) {
		t.Errorf("the same record gave two files (%v)", err)
	}
	text := strings.Join(strings.Fields(read(t, made.PDF)), " ")
	want := []string{proof.Digest, "hod verify FILE.hodlog --root-key", proof.RootKey, proof.Reaches[0].Head}
	want = append(want, v.Cautions...)
	for _, z := range v.Zones {
		want = append(want, v.Site+" zone "+z.Zone.Zone)
	}
	for _, l := range v.Lots {
		want = append(want, l.Material+" "+l.Lot)
	}
	for _, f := range v.Flags.Flags {
		want = append(want, f.ID)
	}
	for _, b := range v.Batches {
		want = append(want, b.Batch+" "+b.Event)
		if len(b.Charges) == 0 || len(b.Into) == 0 {
			t.Errorf("batch %s: of %d constituents into %d coats", b.Batch, len(b.Charges), len(b.Into))
		}
	}
	if len(v.Batches) < 100 || len(v.Lots) < 5 || len(v.Tests) < 20 || len(v.Weather) != 2 {
		t.Errorf("%d batches, %d lots, %d tests, %d days of weather", len(v.Batches), len(v.Lots), len(v.Tests),
			len(v.Weather))
	}
	for _, w := range want {
		if !strings.Contains(text, strings.Join(strings.Fields(w), " ")) {
			t.Errorf("the paper does not say %q", w)
		}
	}
}

func TestALotCanBeInTheBatchesThatWereBegunAfterItCame(t *testing.T) {
	s, now, p := vault(t)
	v := handover.Of(s, now, p.In)
	for _, l := range v.Lots {
		for _, b := range v.Batches {
			if b.Batch == l.FirstBatch && b.From.Before(l.At) {
				t.Errorf("lot %s of %s came %v, after batch %s was begun", l.Lot, l.Material, l.At, b.Batch)
			}
		}
	}
	if v.Lots[0].FirstBatch == "" {
		t.Error("the first lot is in no batch")
	}
}
