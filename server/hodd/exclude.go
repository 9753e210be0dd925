package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/server/admin"
)

func newExclude() *cobra.Command {
	var data, why string
	var from uint64
	var none bool
	c := &cobra.Command{
		Use:   "exclude DEVICE --from N",
		Short: "Have what a revoked device wrote not count, from its event N on; hodd must run",
		Long: "What is excluded stays in the chain of what the device signed and in every archive, and no board, page or report rests on it, on any device. " +
			"It costs a device that holds it nothing any more. With --none all of it counts again.",
		Example: "  hodd exclude n2 --from 148 --why \"200,000 notes in a minute\"\n  hodd exclude n2 --none",
		Args:    word("the name of the device"),
	}
	f := withEnv(c.Flags())
	f.SortFlags = false
	f.Uint64Var(&from, "from", 0, "`N`, the number of the first of its events that does not count")
	f.BoolVar(&none, "none", false, "all that it wrote counts again")
	f.StringVar(&why, "why", "", "the reason, for the log")
	f.data(&data)
	c.RunE = func(c *cobra.Command, args []string) error {
		if none == (from > 0) {
			return usageOf(c, "say from which of its events on, as in --from 148, or --none to have all count again")
		}
		return exclude(c.Context(), data, args[0], from, why)
	}
	return c
}

// exclude has the running server say that what a device wrote does not count.
func exclude(ctx context.Context, data, device string, from uint64, why string) error {
	data, err := dataFolder(data)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, orderTime)
	defer cancel()
	operator, err := admin.Dial(data)
	if err != nil {
		return err
	}
	defer operator.Close()
	n, err := operator.Exclude(ctx, event.Device(device), from, why)
	switch {
	case err != nil:
		return err
	case from == 0:
		fmt.Printf("All that device %s wrote counts again.\n", device)
	default:
		fmt.Printf(
			"What device %s wrote does not count from its event %d on: %d events. They stay in the chain and in archives; `hodd exclude %s --none` has them count again.\n", device, from, n, device)
	}
	return nil
}
