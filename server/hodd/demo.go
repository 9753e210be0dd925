package main

import "context"

func demo(context.Context, []string) error {
	return usage("this hodd was built without the demo; start a server with `hodd`")
}
