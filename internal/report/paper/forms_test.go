package paper

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
	"hod/internal/view/forms"
)

func TestACardIsOneSheetWithBothSystems(t *testing.T) {
	s, now, p := vault(t)
	wet := unit.Share(0.06)
	for name, m := range s.Plan().Mixes {
		v, err := forms.CardOf(s, now, m, 1, &wet)
		if err != nil {
			t.Fatal(err)
		}
		made, err := MixCard(v, p, Letter)
		if err != nil {
			t.Fatal(err)
		}
		if len(made.Pages) != 1 || made.Pages[0] != 1 {
			t.Errorf("mix %s: pages %v", name, made.Pages)
		}
		text := strings.Join(strings.Fields(read(t, made.PDF)), " ")
		for _, l := range v.Lines {
			if l.MassKg == nil || l.VolumeM3 != nil {
				continue
			}
			want := l.Constituent + " " + unit.Metric.Mass(unit.Mass(*l.MassKg)) + " " +
				unit.US.Mass(unit.Mass(*l.MassKg))
			if !strings.Contains(text, want) {
				t.Errorf("mix %s: the card does not say %q:\n%s", name, want, text)
			}
		}
	}
}

func TestTheFormsAreThoseOfThePlanAndOfNoDay(t *testing.T) {
	s, _, _ := vault(t)
	v := forms.BlankOf(s, event.Crew("north"), 8)
	made, err := Blank(v, A4)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Blank(v, A4)
	if err != nil || !bytes.Equal(made.PDF, again.PDF) {
		t.Errorf("the same plan gave two files (%v)", err)
	}
	for i, n := range made.Pages {
		if n != 1 {
			t.Errorf("%s takes %d sheets", v.Forms[i].Title, n)
		}
	}
	pages := strings.Split(read(t, made.PDF), "\f")
	for i, f := range v.Forms {
		said := strings.Join(strings.Fields(pages[i]), " ")
		for _, c := range f.Columns {
			for w := range strings.FieldsSeq(c) {
				if !strings.Contains(said, w) {
					t.Errorf("%s has no column %q:\n%s", f.Title, c, said)
				}
			}
		}
		if f.First == 8 && !strings.Contains(said, "27") {
			t.Errorf("%s does not number its lines from 8 to 27:\n%s", f.Title, said)
		}
	}
}

func TestALinkOnPaperHasItsCodeAndItsAddress(t *testing.T) {
	const address = "https://vault.example:7421/n1/abcdefghijklmnop"
	made, err := Link("Tarn vault", address, "18:00 on 14 May 2031", []string{"anvil birch"},
		time.Date(2031, 5, 14, 18, 0, 0, 0, time.UTC), A4)
	if err != nil {
		t.Fatal(err)
	}
	text := read(t, made.PDF)
	for _, want := range []string{address, "18:00 on 14 May 2031", "anvil birch"} {
		if !strings.Contains(text, want) {
			t.Errorf("the sheet does not say %q:\n%s", want, text)
		}
	}
	s, _, err := lay(Document{Size: A4, Parts: []Part{{Code: address}}})
	if err != nil {
		t.Fatal(err)
	}
	if without, _, err := lay(Document{Size: A4, Parts: []Part{{}}}); err != nil || s.y < without.y+80 {
		t.Errorf("the code takes %v mm (%v)", s.y-without.y, err)
	}
}
