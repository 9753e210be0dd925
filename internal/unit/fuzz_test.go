package unit

import (
	"errors"
	"math"
	"testing"
	"unicode"
	"unicode/utf8"
)

// FuzzParse gives one text to every parser: none panics, what is read is finite and not below zero, what is refused
// says why in words that are safe to print.
func FuzzParse(f *testing.F) {
	for k := range kinds {
		f.Add("0.5" + k.common()[0])
		f.Add(k.examples())
	}
	for _, s := range []string{
		"2.5gal", "2 1/2 gal", "2-1/2gal", "2gal+18floz", "½ gal", "1½ in", `6'-8"`, `6' 8 1/2"`, "6f8", "6’ 8 ½”", "6''", "1qt/4s", "1 1/2 qt / 4 s",
		"0.1ft3/s", "16 fl oz / 100 lb", "1h30", "1:30", "1:30:15", "9999:59", "2,5", "NaN", "Inf", "-Inf", "1e999lb", "1e-999lb", "1/0in", "0/0in", "1 9/0in",
		"", " ", "+", "-", "--1C", "-459.67F", "-500F", "8°5F", "℉", "1 kg/(m²·h)", "1kg/m2/h/h", "///", "1///", "a half", "a a half", "100%", "50%+50%", "50%+51%",
		"2\u202egal", "2\x1b[0mgal", "\xff\xfe", "２gal", "½½½", "1⁄2⁄3", "'''", "1 per per per", "1 in in in", "1 gal per  min", "#", "1#1#", ".", "1.", "1..", "1.e5lb",
		"999999999999999999999999999999999999999999999999999999999999lb", "1ft1ft1ft1ft", "1ft-", "1ft--1in", "1.5.5lb", ".0+000",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		judge := func(name string, x float64, err error, signed bool) {
			t.Helper()
			if err == nil {
				if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 && !signed {
					t.Fatalf("%s %q is %v", name, s, x)
				}
				return
			}
			var e *Error
			if !errors.As(err, &e) || e.Msg == "" || e.Want == "" {
				t.Fatalf("%s %q: error %#v says nothing", name, s, err)
			}
			if x != 0 {
				t.Fatalf("%s %q is refused and yet %v", name, s, x)
			}
			if m := e.Error(); len(m) > 2000 || !utf8.ValidString(m) {
				t.Fatalf("%s %q: a message of %d bytes", name, s, len(m))
			} else {
				for _, r := range m {
					if !unicode.IsPrint(r) {
						t.Fatalf("%s %q: the message has the character %U", name, s, r)
					}
				}
			}
		}
		for k, parse := range asked {
			k := kind(k)
			x, err := parse(s)
			judge(k.noun(), x, err, k == temperature || k == difference)
			if k == temperature && err == nil && x < -Zero {
				t.Fatalf("%q is %v °C", s, x)
			}
			if k == share && x > 1 {
				t.Fatalf("%q is a share of %v", s, x)
			}
		}
		a, err := ParseAmount(s)
		judge("amount", float64(a.Mass)+float64(a.Volume), err, false)
		_, massErr := ParseMass(s)
		_, volumeErr := ParseVolume(s)
		if (err == nil) != (massErr == nil || volumeErr == nil) || massErr == nil && volumeErr == nil {
			t.Fatalf("%q: amount %v, mass %v, volume %v", s, err, massErr, volumeErr)
		}
		a, err = ParseLiquid(s)
		judge("liquid", float64(a.Mass)+float64(a.Volume), err, false)
		for _, system := range []System{Metric, US} {
			for _, show := range []string{
				Both(system, As[Mass]{SI: a.Mass, Entered: s}, System.Mass), Shown(system,
					As[Volume]{SI: a.Volume, Entered: s}, System.Liquid),
			} {
				if s != "" && show == "" {
					t.Fatalf("%q is shown as nothing", s)
				}
			}
		}
	})
}
