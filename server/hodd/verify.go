package main

import (
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"hod/internal/bus"
	"hod/server/admin"
	"hod/server/broker"
	"hod/server/fault"
	"hod/server/host"
	"hod/server/store"
)

// checkTime is how long the reading of a whole stream may take.
const checkTime = time.Hour

func newVerify() *cobra.Command {
	var data string
	c := &cobra.Command{
		Use: "verify", Short: "Read all of the record again and check it from the root key up",
		Long:    "It reads a data folder or a backup, while hodd runs or not.",
		Example: "  hodd verify --data /media/stick/vault", Args: noWords,
	}
	withEnv(c.Flags()).data(&data)
	c.RunE = func(c *cobra.Command, _ []string) error { return verify(c.Context(), data) }
	return c
}

// verify reads all of a data folder's archive, or a backup's, and the stream beside it.
func verify(ctx context.Context, data string) error {
	data, err := dataFolder(data)
	if err != nil {
		return err
	}
	v, err := store.Verify(data)
	if err != nil {
		return err
	}
	fmt.Printf("Site %s, root key %s\n", v.Header.Site, hex.EncodeToString(v.Header.RootKey))
	fmt.Printf(
		"Checked in the archive: files %d, segments %d, events %d, devices %d: checksums, digests, chains, signatures, enrolments, gaps, forks\n",
		v.Files, v.Segments, len(v.Events), len(v.Devices))
	if v.Unknown > 0 {
		fmt.Printf("Not checked: what %d events of kinds that this version does not know mean\n", v.Unknown)
	}
	fmt.Println("Not checked: whether a device wrote more than has reached this folder")
	stream, there, err := checkStream(ctx, data)
	if err != nil {
		return err
	}
	if there {
		fmt.Printf(
			"Checked in the stream: messages %d, events of the record in them %d: that each can be read, is signed by its device and is what the record holds\n", stream.Messages, stream.Events)
	} else {
		fmt.Println("Not checked: the stream, which is not in this folder")
	}
	for _, n := range append(v.Notes, stream.Notes...) {
		fmt.Println("Note: " + n)
	}
	for _, f := range v.Faults {
		if f.File != "" {
			f.What = f.File + ": " + f.What
		}
		fmt.Printf("Fault (%s): %s\n", f.Kind, f.What)
	}
	for _, f := range stream.Faults {
		fmt.Println("Fault (stream): " + f)
	}
	if n := len(v.Faults) + len(stream.Faults); n > 0 {
		return &fault.Error{
			Kind: fault.Disk,
			Msg: fmt.Sprintf(
				"faults found: %d. What the stream or a device still holds comes back by itself; the rest is in a backup", n),
		}
	}
	fmt.Println("No fault found.")
	return nil
}

// checkStream reads the stream that belongs to a data folder: the server that runs on it does, or, if none does, this
// program does from a copy, since to open a stream is to mend it. It says whether there is one.
func checkStream(ctx context.Context, data string) (found host.StreamChecked, there bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, checkTime)
	defer cancel()
	copied, err := os.MkdirTemp("", "hodd-verify-")
	if err != nil {
		return found, true, fmt.Errorf("make room for a copy of the stream: %w", err)
	}
	defer func() { _ = os.RemoveAll(copied) }() // a copy
	found, err = checkCopy(ctx, data, filepath.Join(data, streamDir), filepath.Join(copied, "stream"))
	var busy *fault.Error
	switch {
	case errors.Is(err, errNoStream):
		return found, false, nil
	case errors.As(err, &busy) && busy.Kind == fault.Busy:
		found, err = orderStreamCheck(ctx, data)
	}
	return found, true, err
}

func orderStreamCheck(ctx context.Context, data string) (host.StreamChecked, error) {
	operator, err := admin.Dial(data)
	if err != nil {
		return host.StreamChecked{}, err
	}
	defer operator.Close()
	return operator.CheckStream(ctx)
}

// errNoStream is returned when a folder has none: it is a backup, or its server uses a cluster.
var errNoStream = errors.New("no stream lies in this folder")

// passing is the certificate of a broker that nobody outside of this process reaches. It is not the site's: to show
// that may renew the authority, and a check changes nothing.
func passing() (*tls.Config, error) {
	dir, err := os.MkdirTemp("", "hodd-check-")
	if err != nil {
		return nil, fmt.Errorf("make a folder for a passing certificate: %w", err)
	}
	defer os.RemoveAll(dir)
	authority, err := broker.OpenAuthority(dir, time.Now())
	if err != nil {
		return nil, err
	}
	return authority.TLS(time.Now, "localhost")
}

func checkCopy(ctx context.Context, data, dir, to string) (host.StreamChecked, error) {
	return host.CheckStreamOf(ctx, data, func(site string) (host.Stream, []string, func(), error) {
		if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
			return nil, nil, nil, errNoStream
		}
		if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
			return nil, nil, nil, fmt.Errorf("copy the stream: %w", err)
		}
		certified, err := passing()
		if err != nil {
			return nil, nil, nil, err
		}
		inside, err := broker.Start(ctx, broker.Config{
			Dir: to, Listen: net.JoinHostPort("127.0.0.1", "0"), TLS: certified, Site: site, Log: zerolog.Nop(),
			Admit: func(ed25519.PublicKey) (broker.Rights, error) {
				return broker.Rights{}, errors.New("the stream is only being read")
			},
		})
		if err != nil {
			return nil, nil, nil, err
		}
		s, err := bus.NewHost(inside.Conn(), site)
		if err != nil {
			inside.Stop()
			return nil, nil, nil, err
		}
		cut, err := cutOff(dir, to)
		if err != nil {
			inside.Stop()
			return nil, nil, nil, err
		}
		return s, cut, inside.Stop, nil
	})
}

// cutOff says what of the stream's files was cut off of their copy as it was opened: what does not fit its checksum,
// and what follows that.
func cutOff(from, opened string) (says []string, err error) {
	err = filepath.WalkDir(from, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || filepath.Ext(path) != ".blk" {
			return err
		}
		name, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		is, err := e.Info()
		if err != nil {
			return err
		}
		left := int64(0)
		if now, err := os.Stat(filepath.Join(opened, name)); err == nil {
			left = now.Size()
		} else if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if left < is.Size() {
			says = append(says, fmt.Sprintf("the stream's file %s cannot be read from byte %d of %d on",
				filepath.Base(path), left, is.Size()))
		}
		return nil
	})
	return says, err
}
