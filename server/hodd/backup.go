package main

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"hod/server/store"
)

func newBackup() *cobra.Command {
	var data string
	c := &cobra.Command{
		Use: "backup DIR", Short: "Copy the record to another folder, and verify the copy",
		Long: "DIR is a new folder or an earlier backup of this site; hodd may run meanwhile. DIR gets the root key, too, readable by " +
			"this user only.\nTo restore, copy it with its modes (cp -a) and run hodd --data COPY.",
		Example: "  hodd backup /media/stick/vault", Args: word("the folder for the backup"),
	}
	withEnv(c.Flags()).data(&data)
	c.RunE = func(_ *cobra.Command, args []string) error { return backup(data, args[0]) }
	return c
}

// backup copies the site's log to another folder, while hodd runs on it or not.
func backup(data, to string) error {
	data, err := dataFolder(data)
	if err != nil {
		return err
	}
	b, err := store.MakeBackup(data, to, time.Now(), authorityDir)
	if err != nil {
		return err
	}
	fmt.Printf(
		"Site %s is backed up in %s: %d events of %d devices, %d bytes, %d of them new; read again and verified.\n",
		b.Site, b.Dir, b.Events, len(b.Heads), b.Bytes, b.Copied)
	fmt.Fprintln(os.Stderr,
		"It holds the site's root key: whoever reads that folder can become the site's server. Lock it away.")
	fmt.Fprintln(os.Stderr, "To restore it, copy the folder with its modes (cp -a) and run `hodd --data COPY`.")
	return nil
}
