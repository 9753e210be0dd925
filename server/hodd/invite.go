package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/unit"
	"hod/server/broker"
	"hod/server/enrol"
)

// invitation is what an invitation was asked for with.
type invitation struct {
	data, address, role, crew, good string
	device                          string
	uses                            int
}

func newInvite() *cobra.Command {
	var i invitation
	c := &cobra.Command{
		Use: "invite --role ROLE", Short: "Make a code with which one more device joins, or several",
		Long:    "The server may run meanwhile. The code is printed on stdout, the command to join with on stderr.",
		Example: "  hodd invite --role crew --crew north\n  hodd invite --role crew --uses 6 --for 3d", Args: noWords,
	}
	f := withEnv(c.Flags())
	f.SortFlags = false
	f.StringVar(&i.role, "role", "", "`ROLE`: crew, foreman, inspector or probe")
	f.StringVar(&i.crew, "crew", "", "fixes the `CREW`; otherwise the device says it")
	f.StringVar(&i.good, "for", "24h", "`TIME` for which the code is good, as in 90min, 24h, 7d")
	f.IntVar(&i.uses, "uses", 1, "`N` devices that it lets in")
	f.StringVar(&i.device, "device", "",
		"`NAME` of a device that was let in before and comes in again as who it was, where it cannot prove that itself")
	f.data(&i.data)
	f.text(&i.address, "address", "HODD_ADDRESS", "", "`HOST[:PORT]` by which devices reach the server")
	c.RunE = func(*cobra.Command, []string) error { return i.run() }
	return c
}

// run writes an invitation into the data folder, where a running server finds it, and prints the code.
func (i invitation) run() error {
	role, crew, good, uses := i.role, i.crew, i.good, i.uses
	if role == "" {
		return usage("--role is missing: crew, foreman, inspector or probe")
	}
	as, err := event.ParseRole(role)
	if err != nil || as == event.SiteRole {
		return usage("--role %q is none of crew, foreman, inspector, probe", role)
	}
	span, err := unit.ParseDuration(good)
	if err != nil {
		return usage("--for: %v", err)
	}
	data, err := dataFolder(i.data)
	if err != nil {
		return err
	}
	reach, err := reachable(data, i.address)
	if err != nil {
		return err
	}
	authority, err := broker.OpenAuthority(filepath.Join(data, authorityDir), time.Now())
	if err != nil {
		return err
	}
	now := time.Now()
	secret, err := enrol.Invite(data, enrol.Invitation{
		Role: as, Crew: event.Crew(crew), For: span, Uses: uses,
		Device: event.Device(i.device),
	}, now)
	if err != nil {
		return err
	}
	c, err := codeFor(reach, secret, authority)
	if err != nil {
		return err
	}
	fmt.Println(c)
	fmt.Fprintf(os.Stderr, "Lets in %s as %s until %s, with\n  hod join %s%s\n", devices(uses), as,
		now.Add(span).Format("2006-01-02 15:04"), c, crewHint(as, crew))
	return nil
}

func devices(n int) string {
	if n == 1 {
		return "one device"
	}
	return fmt.Sprintf("%d devices", n)
}

func crewHint(role event.Role, crew string) string {
	if role == event.CrewRole && crew == "" {
		return " --crew NAME"
	}
	return ""
}

// addressFile is where the server on a folder can be reached, or could the last time that it ran.
const addressFile = "address.json"

type addressRecord struct {
	Join string `json:"join"` // host:port
}

func remember(data, address string) error {
	text, err := json.Marshal(addressRecord{address})
	if err != nil {
		return fmt.Errorf("encode %s: %w", addressFile, err)
	}
	if err := os.WriteFile(filepath.Join(data, addressFile), append(text, '\n'), 0o600); err != nil {
		return fmt.Errorf("write down the server's address: %w", err)
	}
	return nil
}

// reachable is the address for a code: that at which the server was last reached, with what was said put in.
func reachable(data, said string) (string, error) {
	var last addressRecord
	text, err := os.ReadFile(filepath.Join(data, addressFile))
	if err == nil {
		err = json.Unmarshal(text, &last)
	}
	if err != nil {
		return "",
			usage("no server ever ran on the data folder %s: start hodd on it first, or say another folder with --data",
				data)
	}
	h, port, err := net.SplitHostPort(last.Join)
	if err != nil {
		return "", usage("the server's address in %s cannot be read: start hodd again",
			filepath.Join(data, addressFile))
	}
	if said == "" {
		return last.Join, nil
	}
	if other, otherPort, err := net.SplitHostPort(said); err == nil {
		return net.JoinHostPort(cmp.Or(other, h), otherPort), nil
	}
	return net.JoinHostPort(said, port), nil
}
