package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"hod/server/store"
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
	b, err := store.MakeBackup(data, to, time.Now(), authorityDir)
	if err != nil {
		return err
	}
	fmt.Printf("Site %s is backed up in %s: %d events of %d devices, %d bytes, %d of them new; read again and verified.\n",
		b.Site, b.Dir, b.Events, len(b.Heads), b.Bytes, b.Copied)
	fmt.Fprintln(os.Stderr, "It holds the site's root key: whoever reads that folder can become the site's server. Lock it away.")
	fmt.Fprintln(os.Stderr, "To restore it, copy the folder with its modes (cp -a) and run `hodd --data COPY`.")
	return nil
}
