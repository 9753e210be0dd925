package broker

import (
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"testing"

	"github.com/nats-io/jwt/v2"
	"github.com/nats-io/nkeys"
	"github.com/rs/zerolog"

	"hod/internal/event"
)

// asking is an authCallout that lets one device in, that device's keys, and those of a server that asks.
func asking(t testing.TB) (d authCallout, device, server nkeys.KeyPair, name string) {
	t.Helper()
	pair := func(prefix nkeys.PrefixByte, who string) nkeys.KeyPair {
		k, err := nkeys.FromRawSeed(prefix, keyOf(who).Seed())
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	device, server = pair(nkeys.PrefixByteUser, "n1"), pair(nkeys.PrefixByteServer, "server")
	name, err := device.PublicKey()
	if err != nil {
		t.Fatal(err)
	}
	in := keyOf("n1").Public().(ed25519.PublicKey)
	return authCallout{
		site: north, issuer: pair(nkeys.PrefixByteAccount, "host"), log: zerolog.Nop(),
		admit: func(key ed25519.PublicKey) (Rights, error) {
			if !in.Equal(key) {
				return Rights{}, errors.New("nobody knows it")
			}
			return Rights{Device: "n1", Role: event.CrewRole}, nil
		},
	}, device, server, name
}

// question that a server asks about a connection.
func question(t testing.TB, server nkeys.KeyPair, connection, name, signature, nonce string) string {
	t.Helper()
	q := jwt.NewAuthorizationRequestClaims("x")
	q.UserNkey, q.Server.ID = connection, "S"
	q.ConnectOptions.Nkey, q.ConnectOptions.SignedNonce, q.ClientInformation.Nonce = name, signature, nonce
	text, err := q.Encode(server)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// A question about no connection has no answer, and does not end the server.
func TestAQuestionAboutNobodyHasNoAnswer(t *testing.T) {
	d, _, server, name := asking(t)
	for _, connection := range []string{"", "x", "UAAA"} {
		if answer, err := d.answer([]byte(question(t, server, connection, name, "", "n"))); err == nil {
			t.Errorf("about %q the answer is %q", connection, answer)
		}
	}
}

// Whatever a cluster asks, in whatever words a connection named itself: nobody is let in but who signed the nonce of
// this very connection with a key that is let in.
func FuzzCallout(f *testing.F) {
	d, device, server, name := asking(f)
	signed, err := device.Sign([]byte("nonce"))
	if err != nil {
		f.Fatal(err)
	}
	raw, padded := base64.RawURLEncoding.EncodeToString(signed), base64.StdEncoding.EncodeToString(signed)
	f.Add("", name, name, raw, "nonce")
	f.Add("", name, name, padded, "nonce")
	f.Add("", name, name, raw, "other")
	f.Add("", name, "UAAA", raw, "nonce")
	f.Add("", "", name, raw, "nonce")
	f.Add("", name, name, "", "")
	f.Add(question(f, server, name, name, raw, "nonce"), "", "", "", "")
	f.Add("a.b.c", "", "", "", "")
	f.Add("..", "", "", "", "")
	f.Fuzz(func(t *testing.T, text, connection, key, signature, nonce string) {
		right := false
		if text == "" {
			text = question(t, server, connection, key, signature, nonce)
			sig, _ := base64.RawURLEncoding.DecodeString(signature)
			if len(sig) == 0 {
				sig, _ = base64.StdEncoding.DecodeString(signature)
			}
			right = key == name && string(sig) == string(signed) && nonce == "nonce"
		} else {
			right = text == question(t, server, name, name, raw, "nonce")
		}
		answer, err := d.answer([]byte(text))
		if err != nil {
			return
		}
		said, err := jwt.DecodeAuthorizationResponseClaims(answer)
		if err != nil || (said.Jwt == "") == (said.Error == "") {
			t.Fatalf("the answer %q: %v", answer, err)
		}
		if said.Jwt != "" && !right {
			asked, err := jwt.DecodeAuthorizationRequestClaims(text)
			if err != nil || asked.ConnectOptions.Nkey != name || asked.ClientInformation.Nonce != "nonce" {
				t.Fatalf("%q is let in", text)
			}
		}
	})
}
