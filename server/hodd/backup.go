package main

import (
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"time"

	"hod/server/host"
)

// backup copies the site's record to another folder, while hodd runs on it or not.
func backup(args []string) error {
	var data string
	w := newWords("hodd backup")
	w.text(&data, "data", "HODD_DIR", "")
	to, err := w.parseWord(args, "the folder for the backup")
	if errors.Is(err, errAsked) {
		fmt.Print(usageText)
		return nil
	}
	if err != nil {
		return err
	}
	if data, err = dataFolder(data); err != nil {
		return err
	}
	b, err := host.MakeBackup(data, to, time.Now(), authorityDir)
	if err != nil {
		return err
	}
	fmt.Printf("Site %s is backed up in %s: %d events of %d devices, %d bytes, %d of them new; read again and verified.\n",
		b.Site, b.Dir, b.Events, len(b.Heads), b.Bytes, b.Copied)
	fmt.Fprintln(os.Stderr, "It holds the site's root key: whoever reads that folder can become the site's server. Lock it away.")
	fmt.Fprintln(os.Stderr, "To restore it, copy the folder with its modes (cp -a) and run `hodd --data COPY`.")
	return nil
}

// verify reads all of a data folder's archive, or a backup's.
func verify(args []string) error {
	var data string
	w := newWords("hodd verify")
	w.text(&data, "data", "HODD_DIR", "")
	err := w.parse(args)
	if errors.Is(err, errAsked) {
		fmt.Print(usageText)
		return nil
	}
	if err != nil {
		return err
	}
	if data, err = dataFolder(data); err != nil {
		return err
	}
	v, err := host.Verify(data)
	if err != nil {
		return err
	}
	fmt.Printf("Site %s, root key %s\n", v.Header.Site, hex.EncodeToString(v.Header.RootKey))
	fmt.Printf("Checked: %d files, %d segments, %d events of %d devices: checksums, digests, chains, signatures, enrolments, gaps, forks\n",
		v.Files, v.Segments, len(v.Events), len(v.Devices))
	if v.Unknown > 0 {
		fmt.Printf("Not checked: what %d events of kinds that this version does not know mean\n", v.Unknown)
	}
	fmt.Println("Not checked: whether a device wrote more than has reached this folder")
	for _, n := range v.Notes {
		fmt.Println("Note: " + n)
	}
	for _, f := range v.Faults {
		if f.File != "" {
			f.What = f.File + ": " + f.What
		}
		fmt.Printf("Fault (%s): %s\n", f.Kind, f.What)
	}
	if n := len(v.Faults); n > 0 {
		return &host.Error{Kind: host.Disk, Msg: fmt.Sprintf("faults found: %d. What the stream or a device still holds comes back by itself; the rest is in a backup", n)}
	}
	fmt.Println("No fault found.")
	return nil
}
