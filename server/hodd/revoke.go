package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/server/admin"
)

// orderTime is how long a server that runs may take to carry out an order.
const orderTime = 5 * time.Second

func newRevoke() *cobra.Command {
	var data, why string
	c := &cobra.Command{
		Use: "revoke DEVICE", Short: "End what a device may do, at once; hodd must run",
		Example: "  hodd revoke n2 --why \"left in the rain\"", Args: word("the name of the device"),
	}
	f := withEnv(c.Flags())
	f.StringVar(&why, "why", "", "the reason, for the record")
	f.data(&data)
	c.RunE = func(c *cobra.Command, args []string) error { return revoke(c.Context(), data, args[0], why) }
	return c
}

// revoke has the running server end what a device may do.
func revoke(ctx context.Context, data, device, why string) error {
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
	if err := operator.Revoke(ctx, event.Device(device), why); err != nil {
		return err
	}
	fmt.Printf("Device %s is revoked: what the record holds of it stands, it can write and read no more.\n", device)
	return nil
}
