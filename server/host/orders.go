package host

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"hod/internal/event"
	"hod/server/fault"
	"hod/server/store"
)

// The root key lies in the data folder, and whoever may write there may do what it may. So the server takes orders from
// files in that folder, and from nowhere else.
const (
	ordersDir   = "orders"
	orderEnd    = ".order"
	answerEnd   = ".answer"
	lookForWork = 300 * time.Millisecond
	maxOrder    = 64 << 10 // bytes
)

// order is exactly one of these.
type order struct {
	Revoke event.Device `json:"revoke,omitempty"`
	Why    string       `json:"why,omitempty"`
	Check  bool         `json:"check_stream,omitempty"`
}

func (o order) String() string {
	if o.Check {
		return "check the stream"
	}
	return "revoke " + fault.Quote(o.Revoke)
}

type orderAnswer struct {
	Kind    fault.Kind     `json:"kind"`
	Wrong   string         `json:"wrong,omitempty"`
	Checked *StreamChecked `json:"checked,omitempty"`
}

// Orders are what the one who runs the host does about an order.
type Orders struct {
	Revoked func(event.Device) // ends the device's connections
	Check   func(context.Context) (StreamChecked, error)
}

// OrderRevocation has the server that runs on a data folder revoke a device, and waits for it until ctx ends. The Error
// is of kind Offline if no server took the order; it is taken back then.
func OrderRevocation(ctx context.Context, dir string, d event.Device, why string) error {
	_, err := give(ctx, dir, order{Revoke: d, Why: why})
	return err
}

// OrderStreamCheck has the server that runs on a data folder read its whole stream again, and waits for it until ctx ends.
// Errors as of OrderRevocation.
func OrderStreamCheck(ctx context.Context, dir string) (StreamChecked, error) {
	a, err := give(ctx, dir, order{Check: true})
	if err != nil || a.Checked == nil {
		return StreamChecked{}, err
	}
	return *a.Checked, nil
}

func give(ctx context.Context, dir string, o order) (orderAnswer, error) {
	folder := filepath.Join(dir, ordersDir)
	if err := store.MakeFolder(folder); err != nil {
		return orderAnswer{}, fault.OfFile(folder, err)
	}
	text, err := json.Marshal(o)
	if err != nil {
		return orderAnswer{}, fmt.Errorf("encode an order: %w", err)
	}
	path := filepath.Join(folder, rand.Text())
	if err := store.ReplaceFile(path+orderEnd, text); err != nil {
		return orderAnswer{}, err
	}
	for {
		text, err := os.ReadFile(path + answerEnd)
		if err == nil {
			_ = os.Remove(path + answerEnd) // the server clears away what is left
			return readAnswer(text)
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return orderAnswer{}, fault.OfFile(path, err)
		}
		if !rest(ctx, lookForWork/4) {
			if os.Remove(path+orderEnd) == nil {
				return orderAnswer{}, fault.New(fault.Offline, nil, "no hodd runs on the data folder %s; start it, then try again", dir)
			}
			return orderAnswer{}, fault.New(fault.Offline, nil, "hodd took the order to %v but has not answered; see its log", o)
		}
	}
}

func readAnswer(text []byte) (orderAnswer, error) {
	var a orderAnswer
	if err := json.Unmarshal(text, &a); err != nil {
		return orderAnswer{}, fmt.Errorf("decode an answer: %w", err)
	}
	if a.Wrong != "" {
		return orderAnswer{}, fault.New(a.Kind, nil, "%s", a.Wrong)
	}
	return a, nil
}

// TakeOrders does what is ordered until ctx ends.
func (h *Host) TakeOrders(ctx context.Context, do Orders) {
	folder := filepath.Join(h.folder.Dir(), ordersDir)
	var busy sync.WaitGroup // a check takes its time, and a revocation must not wait for it
	defer busy.Wait()
	for rest(ctx, lookForWork) {
		entries, err := os.ReadDir(folder)
		if err != nil {
			continue // nobody ordered anything yet
		}
		for _, e := range entries {
			path := filepath.Join(folder, e.Name())
			switch {
			case strings.HasSuffix(e.Name(), orderEnd) && e.Type().IsRegular(): // a pipe would hold up who reads it for ever
				busy.Go(func() { h.carryOut(ctx, path, do) })
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

// takeOrder reads a file of an order, and no more of it than an order can be long.
func takeOrder(path string) (order, error) {
	f, err := os.Open(path)
	if err != nil {
		return order{}, fault.OfFile(path, err)
	}
	defer func() { _ = f.Close() }() // it was only read
	text, err := io.ReadAll(io.LimitReader(f, maxOrder+1))
	if err != nil {
		return order{}, fault.OfFile(path, err)
	}
	return readOrder(text)
}

func readOrder(text []byte) (o order, err error) {
	if len(text) > maxOrder {
		return order{}, fault.New(fault.Invalid, nil, "an order has %d bytes at most", maxOrder)
	}
	if err := json.Unmarshal(text, &o); err != nil {
		return order{}, fault.New(fault.Invalid, err, "the order cannot be read: it is no JSON such as hodd writes")
	}
	if o.Check == (o.Revoke != "") {
		return order{}, fault.New(fault.Invalid, nil, "an order either revokes a device or has the stream checked, and this one does not say which")
	}
	return o, nil
}

func (h *Host) carryOut(ctx context.Context, path string, do Orders) {
	o, err := takeOrder(path)
	// Taken before it is done: an order whose sender has gone away is not carried out behind its back.
	if os.Remove(path) != nil {
		return
	}
	var a orderAnswer
	switch {
	case err != nil:
	case o.Check:
		var found StreamChecked
		if found, err = do.Check(ctx); err == nil {
			a.Checked = &found
		}
	default:
		if err = h.Revoke(o.Revoke, o.Why); err == nil {
			do.Revoked(o.Revoke)
		}
	}
	if err != nil {
		var known *fault.Error
		a.Wrong = "the server met a fault of its own; it is in its log"
		if errors.As(err, &known) {
			a = orderAnswer{Kind: known.Kind, Wrong: known.Msg}
		} else {
			h.log.Error().Err(err).Msg("an order could not be carried out")
		}
	}
	answer, err := json.Marshal(a)
	if err == nil {
		err = store.ReplaceFile(strings.TrimSuffix(path, orderEnd)+answerEnd, answer)
	}
	if err != nil {
		h.log.Error().Err(err).Msg("an order could not be answered")
	}
}

// rest reports whether there is something to go on for.
func rest(ctx context.Context, d time.Duration) bool {
	select {
	case <-ctx.Done():
		return false
	case <-time.After(d):
		return true
	}
}
