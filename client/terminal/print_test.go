package terminal

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"
)

func TestListsInDocumentsAreNeverNull(t *testing.T) {
	type inner struct {
		Names []string `json:"names"`
	}
	var b bytes.Buffer
	doc := struct {
		Rows []inner    `json:"rows"`
		One  *inner     `json:"one"`
		None *inner     `json:"none"`
		Said []string   `json:"said,omitempty"`
		At   *time.Time `json:"at"`
	}{Rows: []inner{{}}, One: &inner{}}
	if err := WriteJSON(&b, "x", doc); err != nil {
		t.Fatal(err)
	}
	if want := `{"schema":"hod.x.v1","rows":[{"names":[]}],"one":{"names":[]},"none":null,"at":null}` +
		"\n"; b.String() != want {
		t.Errorf("it is %s; want %s", &b, want)
	}
	if !json.Valid(b.Bytes()) {
		t.Error("it is no JSON")
	}
}

func TestJSONEscapesCharactersBeyondTheBasicPlane(t *testing.T) {
	if got := string(escaped(
		[]byte("{\"x\":\"\u009b\U000e0041é\"}\n"))); got != "{\"x\":\"\\u009b\\udb40\\udc41é\"}\n" {
		t.Errorf("%s", got)
	}
}

// What others wrote reaches a terminal as text only.
func TestHostileTextIsMadeSafe(t *testing.T) {
	if got, want := Safe("a\x1b[2Jb\nc\u202ed\x00"), "a\ufffd[2Jb c\ufffdd\ufffd"; got != want {
		t.Errorf("safe gives %q, not %q", got, want)
	}
}
