package event_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/event/eventtest"
	hodv1 "hod/proto/hod/v1"
)

// parsed is a word's number by the function that reads it.
func parsed[E ~int](parse func(string) (E, error)) func(string) (int, error) {
	return func(s string) (int, error) { e, err := parse(s); return int(e), err }
}

// The words and the numbers of every enumeration are those of event.proto.
func TestEnumerations(t *testing.T) {
	for _, c := range []struct {
		name  string
		enum  protoreflect.EnumDescriptor
		word  func(int) string
		parse func(string) (int, error)
	}{
		{
			"face", hodv1.Face(0).Descriptor(), func(n int) string { return event.Face(n).String() },
			parsed(event.ParseFace),
		},
		{
			"role", hodv1.Role(0).Descriptor(), func(n int) string { return event.Role(n).String() },
			parsed(event.ParseRole),
		},
		{
			"kind", hodv1.ConstituentKind(0).Descriptor(), func(n int) string { return event.Kind(n).String() },
			parsed(event.ParseKind),
		},
		{
			"tending", hodv1.Tending(0).Descriptor(), func(n int) string { return event.Tending(n).String() },
			parsed(event.ParseTending),
		},
		{
			"units", hodv1.UnitSystem(0).Descriptor(), func(n int) string { return event.Units(n).String() },
			parsed(event.ParseUnits),
		},
		{
			"shape", hodv1.SpecimensBroken_Shape(0).Descriptor(),
			func(n int) string { return event.Specimen(n).String() },
			parsed(event.ParseSpecimen),
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			values := c.enum.Values()
			for i := 1; i < values.Len(); i++ {
				word := c.word(i)
				if full := string(values.ByNumber(protoreflect.EnumNumber(i)).Name()); !strings.HasSuffix(full,
					"_"+strings.ToUpper(word)) {
					t.Errorf("%d is %q here and %s on disk", i, word, full)
				}
				for _, s := range []string{word, strings.ToUpper(word), " " + word + " "} {
					if n, err := c.parse(s); err != nil || n != i {
						t.Errorf("%q is read as %d, %v; want %d", s, n, err, i)
					}
				}
			}
			for _, s := range []string{"nonsense", c.word(values.Len()), c.word(-1)} {
				var cannot event.CannotBe
				if n, err := c.parse(s); !errors.As(err, &cannot) || !strings.Contains(err.Error(), c.word(1)) {
					t.Errorf("%q is read as %d, %v; want the words that there are", s, n, err)
				}
			}
			if c.name != "face" {
				for _, s := range []string{"", c.word(0)} {
					if n, err := c.parse(s); err == nil {
						t.Errorf("%q is read as %d", s, n)
					}
				}
			}
		})
	}
	if f, err := event.ParseFace(""); err != nil || f != event.AnyFace {
		t.Errorf("no face is read as %v, %v", f, err)
	}
	if k, err := event.ParseKind("fiber"); err != nil || k != event.Fibre {
		t.Errorf("fiber is read as %v, %v", k, err)
	}
}

func TestBatchNames(t *testing.T) {
	for s, want := range map[string]event.Batch{
		"7":                  {Crew: "north", Day: "2026-07-18", Number: 7},
		"south/12":           {Crew: "south", Day: "2026-07-18", Number: 12},
		"south/2026-07-17/1": {Crew: "south", Day: "2026-07-17", Number: 1},
	} {
		if got, err := event.ParseBatch(s, "north", "2026-07-18"); err != nil || got != want {
			t.Errorf("%q is read as %v, %v", s, got, err)
		}
	}
	for _, s := range []string{
		"", "0", "-1", "x", "1000", "/7", "a b/7", "south/x", "south/17.7.2026/1",
		"south/2026-02-30/1", "a/2026-07-17/1/2", "south/2026-07-17/",
	} {
		if b, err := event.ParseBatch(s, "north", "2026-07-18"); err == nil {
			t.Errorf("%q is read as %v", s, b)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		b := eventtest.Batch(t)
		if got, err := event.ParseBatch(b.String(), "x", "y"); err != nil || got != b {
			t.Fatalf("%s is read as %v, %v", b, got, err)
		}
	})
}

func TestCoatNames(t *testing.T) {
	if got := (event.Coat{Zone: "A3", Number: 1}).String(); got != "A3 1" {
		t.Errorf("a coat of no face is %q", got)
	}
	if got := a3.String(); got != "A3 outer 1" {
		t.Errorf("a coat is %q", got)
	}
}

func TestWhatANameMayHold(t *testing.T) {
	named := func(s string) error {
		_, err := event.Write(event.Event{
			Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon,
			Body: event.CrewPlanned{Crew: event.Crew(s)},
		})
		return err
	}
	for _, s := range []string{"a", "7", "A3", "n-2_b", "Süd", "Su\u0308d", "北", "उत्तर", strings.Repeat("я",
		event.MaxName)} {
		if err := named(s); err != nil {
			t.Errorf("%q: %v", s, err)
		}
	}
	for _, s := range []string{
		"", " ", "a b", "a/b", "a.b", "a*", ">", "-a", "_a", "\u0301a", "a\x00", "a\n",
		"a\u202eb", "a\u200bb", "a\xff", strings.Repeat("я", event.MaxName+1),
	} {
		var cannot event.CannotBe
		if err := named(s); !errors.As(err, &cannot) {
			t.Errorf("%q passes as a name, or fails otherwise: %v", s, err)
		} else if strings.ContainsAny(err.Error(), "\x00\n\u202e\u200b") || !utf8.ValidString(err.Error()) {
			t.Errorf("the sentence about %q repeats what cannot be shown", s)
		}
	}
}

func ExampleBatch_String() {
	fmt.Println(event.Batch{Crew: "north", Day: "2026-07-18", Number: 7})
	fmt.Println(event.Coat{Zone: "A3", Face: event.Outer, Number: 1})
	// Output:
	// north/2026-07-18/7
	// A3 outer 1
}
