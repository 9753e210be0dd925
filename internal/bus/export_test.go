package bus

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Last is the number of the last message in the log, 0 if there is none.
func (l *Line) Last(ctx context.Context) (uint64, error) { return l.last(ctx) }

// last is the number of the stream's last message, 0 if it has none.
func (w *wire) last(ctx context.Context) (last uint64, err error) {
	request, err := json.Marshal(struct {
		For   []string `json:"multi_last"`
		Batch int      `json:"batch"`
	}{[]string{LogSubjects(w.site)}, 1})
	if err != nil {
		return 0, fmt.Errorf("encode a read: %w", err)
	}
	err = w.many(ctx, "read the log", request, 1, func(m *nats.Msg) (bool, error) {
		if m.Header == nil || lastNumber(m, jetstream.SequenceHeader) > 0 {
			return false, nil // the last message of some carrier; the number asked for is in the end's
		}
		switch status := m.Header.Get("Status"); status {
		case "204":
			last = lastNumber(m, "Nats-UpTo-Sequence")
			return true, nil
		case "404":
			return true, nil
		default:
			return false, fail(Internal, nil, "the site %s did not say where its log ends (%s %s)", w.site, status,
				m.Header.Get("Description"))
		}
	})
	return last, err
}
