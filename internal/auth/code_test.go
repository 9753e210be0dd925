package auth

import (
	"encoding/base32"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Crockford's alphabet in the standard library's encoder, as a second opinion.
var crockford = base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ").WithPadding(base32.NoPadding)

func TestLettersAreCrockfordsBase32(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var f Fingerprint
		copy(f[:], rapid.SliceOfN(rapid.Byte(), FingerprintBytes, FingerprintBytes).Draw(t, "bytes"))
		if got, want := strings.ReplaceAll(f.String(), "-", ""), crockford.EncodeToString(f[:]); got != want {
			t.Fatalf("%x is written %s, not %s", f, got, want)
		}
	})
}

func TestACodeIsReadAsPeopleTypeIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Code{Address: rapid.SampledFrom([]string{
			"hod.example:7411", "10.0.0.7:1", "[fe80::1]:65535",
			"site-box:80",
		}).Draw(t, "address")}
		copy(c.Secret[:], rapid.SliceOfN(rapid.Byte(), SecretBytes, SecretBytes).Draw(t, "secret"))
		copy(c.Fingerprint[:], rapid.SliceOfN(rapid.Byte(), FingerprintBytes, FingerprintBytes).Draw(t, "fingerprint"))
		shown := c.String()
		address, letters, _ := strings.Cut(shown, "/")
		typed := rapid.SampledFrom([]string{
			shown, strings.ToLower(shown), "  " + shown + "\n",
			strings.ReplaceAll(shown, "-", map[bool]string{true: "-", false: " "}[strings.Contains(address, "-")]),
			address + "/" + strings.ReplaceAll(letters, "-", ""),
			address + "/" + strings.NewReplacer("1", "l", "0", "O").Replace(letters),
			address + "/" + strings.NewReplacer("1", "I", "0", "o").Replace(letters),
		}).Draw(t, "typed")
		got, err := ParseCode(typed)
		if err != nil {
			t.Fatalf("%q: %v", typed, err)
		}
		if got != c {
			t.Fatalf("%q is read as %v, not %v", typed, got, c)
		}
	})
}

func TestACodeThatCannotBeIsRefused(t *testing.T) {
	good := Code{Address: "hod.example:7411"}.String()
	for _, c := range []struct{ name, typed, says string }{
		{"nothing", "", "address before a /"},
		{"no address", "/" + strings.SplitN(good, "/", 2)[1], "host:port"},
		{"no port", strings.Replace(good, ":7411", "", 1), "host:port"},
		{"a port too high", strings.Replace(good, "7411", "70000", 1), "host:port"},
		{"a letter short", good[:len(good)-1], "41 letters and digits after the /, not 42"},
		{"a letter too many", good + "0", "43 letters"},
		{"a U, which is no letter of it", good[:len(good)-1] + "U", `'U' is no letter`},
		{"bits that nothing is written in", good[:len(good)-1] + "1", "last letter"},
		{"a line break in the host", strings.Replace(good, "hod.", "hod\n.", 1), "holds '\\n'"},
		{"a book", strings.Repeat("A", 4000), "too long"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ParseCode(c.typed)
			if err == nil {
				t.Fatalf("%q is read as %v; want an error that says %q", c.typed, got, c.says)
			}
			if !strings.Contains(err.Error(), c.says) {
				t.Errorf("%q: %v; want it to say %q", c.typed, err, c.says)
			}
		})
	}
}

func FuzzParse(f *testing.F) {
	f.Add(Code{Address: "hod.example:7411"}.String())
	f.Add("[::1]:1/oOlLiI")
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseCode(s)
		if err != nil {
			return
		}
		if again, err := ParseCode(c.String()); err != nil || again != c {
			t.Fatalf("%q is read as %q, which is read as %v, %v", s, c, again, err)
		}
	})
}
