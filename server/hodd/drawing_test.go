package main

import (
	"strings"
	"testing"
	"time"

	"hod/internal/auth"
)

// A script is given the same of what the pages draw by the server and by a device.
func TestWhatThePagesDrawIsTheSameFromTheServerAndFromADevice(t *testing.T) {
	w := started(t, here(t.TempDir()))
	d := tabletOf(t, joined(t, w, firstForeman))
	d.online("sync")
	d.work()
	d.online("sync")
	at := time.Now().Add(time.Minute).UTC().Format("2006-01-02 15:04")
	for _, words := range [][]string{{"map", "--all"}, {"map"}, {"overview"}, {"charts"}} {
		own := d.hod(append(words, "--json", "--at", at)...)
		asked := d.online(append(words, "--json", "--at", at, "--server")...)
		own, _, _ = strings.Cut(own, `,"own_copy"`)
		asked, _, _ = strings.Cut(strings.TrimSpace(asked), `,"own_copy"`)
		if strings.TrimSuffix(asked, "}") != own || !strings.Contains(own, `"zone":"A1"`) {
			t.Errorf("hod %v\nfrom the device: %s\nfrom the server: %s", words, own, asked)
		}
	}
}

// The short link that hod link gives is the server's, and says how many letters it has; the words are those that hodd
// shows.
func TestALinkToTypeIsGivenWithTheWordsOfTheAuthority(t *testing.T) {
	w := started(t, here(t.TempDir()))
	d := tabletOf(t, joined(t, w, firstForeman))
	d.online("sync")
	d.online("link", "--for", "1min") // the shortest that there is
	said := d.online("link")
	address, rest, _ := strings.Cut(said, "\n")
	begins := "https://" + w.pages + "/s/" + string(d.name)
	if !strings.HasPrefix(address, begins+"-") || len(address) != len(begins)+20 {
		t.Errorf("the address is %q", address)
	}
	words := strings.Join(auth.FingerprintOf(w.authority.DER()).Words(), " ")
	if !strings.Contains(rest, words) || !strings.Contains(rest, "letters, to be sent or typed") {
		t.Errorf("hod link says\n%s\nwithout the words %s", said, words)
	}
}
