package host

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hod/internal/event"
)

// Revoke ends what a device may write: of its events, those that the record holds now stand.
func (h *Host) Revoke(d event.Device, why string) error {
	m, ok := h.Member(d)
	switch {
	case !ok:
		return fail(NotFound, nil, "no device %s is enrolled here", plain(d))
	case m.Revoked:
		return fail(Conflict, nil, "device %s is revoked already", d)
	case !h.isWhole():
		return notYet(h.id.site)
	}
	h.mu.Lock()
	var last uint64
	for _, head := range h.heads {
		if head.Device == d {
			last = head.Seq
		}
	}
	h.mu.Unlock()
	if _, err := h.write(event.DeviceRevoked{Device: d, LastSeq: last, Why: why}); err != nil {
		return err
	}
	h.log.Info().Str("device", string(d)).Uint64("last", last).Msg("revoked")
	return nil
}

// The root key lies in the data folder, and whoever may write there may do what it may. So the server takes orders from
// files in that folder, and from nowhere else.
const (
	ordersDir   = "orders"
	orderEnd    = ".order"
	answerEnd   = ".answer"
	lookForWork = 300 * time.Millisecond
)

type order struct {
	Revoke event.Device `json:"revoke"`
	Why    string       `json:"why"`
}

type orderAnswer struct {
	Kind  Kind   `json:"kind"`
	Wrong string `json:"wrong,omitempty"`
}

// OrderRevocation has the server that runs on a data folder revoke a device, and waits for it until ctx ends. The Error
// is of kind Offline if no server took the order; it is taken back then.
func OrderRevocation(ctx context.Context, dir string, d event.Device, why string) error {
	folder := filepath.Join(dir, ordersDir)
	if err := makeFolder(system{}, folder); err != nil {
		return diskError(folder, err)
	}
	text, err := json.Marshal(order{d, why})
	if err != nil {
		return fmt.Errorf("encode an order: %w", err)
	}
	path := filepath.Join(folder, rand.Text())
	if err := replaceFile(path+orderEnd, text); err != nil {
		return err
	}
	for {
		text, err := os.ReadFile(path + answerEnd)
		if err == nil {
			_ = os.Remove(path + answerEnd) // the server clears away what is left
			return readAnswer(text)
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return diskError(path, err)
		}
		if !rest(ctx, lookForWork/4) {
			if os.Remove(path+orderEnd) == nil {
				return fail(Offline, nil, "no hodd runs on the data folder %s; start it, then revoke again", dir)
			}
			return fail(Offline, nil, "hodd took the order to revoke %s but has not answered; see its log", plain(d))
		}
	}
}

func readAnswer(text []byte) error {
	var a orderAnswer
	if err := json.Unmarshal(text, &a); err != nil {
		return fmt.Errorf("decode an answer: %w", err)
	}
	if a.Wrong != "" {
		return fail(a.Kind, nil, "%s", a.Wrong)
	}
	return nil
}

// TakeOrders does what OrderRevocation asks for until ctx ends; revoked is told of each device, to end its connections.
func (h *Host) TakeOrders(ctx context.Context, revoked func(event.Device)) {
	folder := filepath.Join(h.dir, ordersDir)
	for rest(ctx, lookForWork) {
		entries, err := os.ReadDir(folder)
		if err != nil {
			continue // nobody ordered anything yet
		}
		for _, e := range entries {
			path := filepath.Join(folder, e.Name())
			switch {
			case strings.HasSuffix(e.Name(), orderEnd):
				h.carryOut(path, revoked)
			case h.old(e):
				_ = os.Remove(path) // whoever asked is gone
			}
		}
	}
}

func (h *Host) old(e os.DirEntry) bool {
	info, err := e.Info()
	return err == nil && time.Since(info.ModTime()) > time.Hour
}

func (h *Host) carryOut(path string, revoked func(event.Device)) {
	text, err := os.ReadFile(path)
	var o order
	if err == nil {
		err = json.Unmarshal(text, &o)
	}
	// Taken before it is done: an order whose sender has gone away is not carried out behind its back.
	if os.Remove(path) != nil {
		return
	}
	if err == nil {
		err = h.Revoke(o.Revoke, o.Why)
	}
	var a orderAnswer
	if err == nil {
		revoked(o.Revoke)
	} else {
		var known *Error
		a.Wrong = "the server met a fault of its own; it is in its log"
		if errors.As(err, &known) {
			a = orderAnswer{known.Kind, known.Msg}
		} else {
			h.log.Error().Err(err).Msg("an order could not be carried out")
		}
	}
	answer, err := json.Marshal(a)
	if err == nil {
		err = replaceFile(strings.TrimSuffix(path, orderEnd)+answerEnd, answer)
	}
	if err != nil {
		h.log.Error().Err(err).Msg("an order could not be answered")
	}
}
