package auth

import (
	"crypto/ed25519"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var (
	rootKey = ed25519.NewKeyFromSeed([]byte(strings.Repeat("r", ed25519.SeedSize)))
	oneKey  = ed25519.NewKeyFromSeed([]byte(strings.Repeat("1", ed25519.SeedSize))).Public().(ed25519.PublicKey)
	twoKey  = ed25519.NewKeyFromSeed([]byte(strings.Repeat("2", ed25519.SeedSize))).Public().(ed25519.PublicKey)
)

func TestAShortLinkIsReadAsPeopleTypeIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		device := rapid.StringMatching(`[a-z]{1,3}[0-9]{1,3}`).Draw(t, "device")
		until := shortBegin.Add(time.Duration(rapid.IntRange(0, 1<<minuteBits-1).Draw(t, "minute")) * time.Minute)
		key := ShortKey(rootKey)
		code := NewShortLink(key, "vault", device, oneKey, until.Add(59*time.Second))
		if n := len(code) - len(device); n != 20 {
			t.Fatalf("%s has %d letters behind the device's name", code, n)
		}
		for _, typed := range []string{code, strings.ToLower(code), strings.ReplaceAll(code, "-",
			""), strings.ReplaceAll(strings.ReplaceAll(code[len(device):], "0", "o"), "1", "l")} {
			if !strings.HasPrefix(typed, device) {
				typed = device + typed
			}
			l, err := ReadShortLink(typed)
			if err != nil {
				t.Fatalf("%s: %v", typed, err)
			}
			if l.Device != device || !l.Until.Equal(until) || !l.Holds(key, "vault", oneKey) {
				t.Fatalf("%s is read as %s until %v, which holds: %t", typed, l.Device, l.Until,
					l.Holds(key, "vault", oneKey))
			}
		}
	})
}

func TestAShortLinkHoldsForItsSiteItsDeviceAndItsTimeAlone(t *testing.T) {
	key, until := ShortKey(rootKey), shortBegin.Add(1e6*time.Minute)
	code := NewShortLink(key, "vault", "f1", oneKey, until)
	l, err := ReadShortLink(code)
	if err != nil {
		t.Fatal(err)
	}
	other := ShortKey(ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize)))
	for name, holds := range map[string]bool{
		"another site's server": l.Holds(other, "vault", oneKey),
		"another site":          l.Holds(key, "barn", oneKey),
		"another key":           l.Holds(key, "vault", twoKey),
		"another device":        ShortLink{"f2", l.Until, l.mark}.Holds(key, "vault", oneKey),
		"a minute longer":       ShortLink{"f1", l.Until.Add(time.Minute), l.mark}.Holds(key, "vault", oneKey),
	} {
		if holds {
			t.Errorf("it holds for %s", name)
		}
	}
	// One letter that differs opens nothing.
	for i := range code {
		if i < len("f1-") || code[i] == '-' {
			continue
		}
		typed := code[:i] + string(alphabet[(strings.IndexByte(alphabet, code[i])+1)%32]) + code[i+1:]
		if l, err := ReadShortLink(typed); err == nil && l.Holds(key, "vault", oneKey) {
			t.Errorf("%s opens what %s does", typed, code)
		}
	}
}

func FuzzReadShortLink(f *testing.F) {
	f.Add("f1-0000-0000-0000-0000")
	f.Add("-")
	f.Fuzz(func(t *testing.T, s string) {
		if l, err := ReadShortLink(s); err == nil && l.Device == "" {
			t.Fatalf("%q is nobody's", s)
		}
	})
}
