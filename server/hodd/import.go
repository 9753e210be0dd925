package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"hod/server/fault"
	"hod/server/host"
)

func newImport() *cobra.Command {
	var data, site string
	c := &cobra.Command{
		Use: "import FILE", Short: "Take in what a device exported, after the server lost its record",
		Long:    "hodd must not run. A new folder needs root.key and the folder authority first, from a backup.",
		Example: "  hodd import vault.hodlog", Args: word("the file that `hod export` wrote"),
	}
	f := withEnv(c.Flags())
	f.data(&data)
	f.text(&site, "site", "HODD_SITE", "", "`NAME` of the site, for a new folder")
	c.RunE = func(_ *cobra.Command, args []string) error { return importing(data, site, args[0]) }
	return c
}

// importing takes a device's export into the log of a server that lost it. Until it knows again whom it let in, it
// lets nobody in, and nobody can bring it what it lacks.
func importing(data, site, from string) error {
	data, err := dataFolder(data)
	if err != nil {
		return err
	}
	file, err := os.Open(from)
	if err != nil {
		return usage("%v", err)
	}
	defer file.Close()
	h, err := host.Open(data, host.Config{Site: site, Log: newLog(os.Stderr)})
	if err != nil {
		return err
	}
	did, err := h.Import(file)
	if err := errors.Join(err, h.Close()); err != nil {
		return err
	}
	fmt.Printf("%d events are new in the record of site %s. What it still lacks, the devices bring when they sync.\n",
		did.New, h.Site())
	if did.Waiting > 0 {
		fmt.Printf(
			"%d pieces of the file wait for what comes before them; import another device's export too, or let the devices sync.\n", did.Waiting)
	}
	if did.Damaged > 0 {
		return &fault.Error{
			Kind: fault.Disk,
			Msg: fmt.Sprintf(
				"%d bytes of %s cannot be read; the rest was taken in. Import another device's export, too",
				did.Damaged, from),
		}
	}
	return nil
}
