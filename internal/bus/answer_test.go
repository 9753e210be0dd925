package bus

import (
	"encoding/json"
	"errors"
	"testing"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Any bytes as a server's word on a segment are its acknowledgement or an error that says why not; nothing counts as
// stored for a site that another stream answers for, or that has no number. The headers of a message are anybody's:
// what cannot be read of them is nothing.
func FuzzAnswers(f *testing.F) {
	for _, text := range []string{
		`{"stream":"HOD_dune","seq":7}`, `{"stream":"HOD_reef","seq":7}`, `{"stream":"HOD_dune","seq":0}`, `{"stream":"HOD_dune","seq":-1}`, `{"seq":1e30}`,
		`{"error":{"code":503,"err_code":10077,"description":"maximum messages per subject exceeded"}}`, `{"error":{"err_code":10047}}`, `{"error":{"err_code":10054}}`,
		`{"error":{}}`, `{"error":null,"stream":"HOD_dune","seq":1,"duplicate":true}`, `null`, ``, `[]`, `{"stream":"HOD_dune","seq":1}{}`,
	} {
		f.Add([]byte(text), "hod.log.dune.n1", "2026-07-18T10:00:00.000000001Z", "7")
	}
	f.Add([]byte(`{}`), "hod.log.reef.n1", "yesterday", "18446744073709551615")
	f.Fuzz(func(t *testing.T, raw []byte, subject, stamp, number string) {
		err := acknowledged("dune", 100, raw)
		var known *Error
		switch {
		case err == nil:
			var said map[string]any
			if json.Unmarshal(raw, &said) != nil || said == nil {
				t.Fatalf("%q counts as an acknowledgement", raw)
			}
		case !errors.As(err, &known) || known.Msg == "":
			t.Fatalf("%q: %v", raw, err)
		}
		w := newWire("dune")
		m := &nats.Msg{Data: raw, Header: nats.Header{
			jetstream.SubjectHeader: {subject}, jetstream.TimeStampHeaer: {stamp},
			jetstream.SequenceHeader: {"5", number},
		}}
		seq := lastNumber(m, jetstream.SequenceHeader)
		got := w.message(m, seq)
		if got.Seq != seq || string(got.Data) != string(raw) || len(got.Carrier) > len(subject) {
			t.Fatalf("of %q at %q with %q: %+v", subject, stamp, number, got)
		}
	})
}
