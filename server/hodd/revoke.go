package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"hod/internal/event"
	"hod/server/admin"
)

// orderTime is how long a server that runs may take to carry out an order.
const orderTime = 5 * time.Second

// revocation has the running server end what a device may do.
func revocation(ctx context.Context, args []string) error {
	var data, why string
	w := newWords("hodd revoke")
	w.text(&data, "data", "HODD_DIR", "")
	w.StringVar(&why, "why", "", "")
	device, err := w.parseWord(args, "the name of the device")
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
