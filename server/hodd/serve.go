package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/server/broker"
	"hod/server/enrol"
)

// newServe is the command that runs a site's server, which hodd alone does, too.
func newServe(name string) *cobra.Command {
	c := &cobra.Command{Use: name, Short: "Run the site's server; the first start makes the site", Args: noWords}
	c.Flags().SortFlags = false
	flags := newServeFlags(c.Flags())
	c.RunE = func(c *cobra.Command, _ []string) error {
		s, err := flags.read()
		if err != nil {
			return err
		}
		return serve(c.Context(), s)
	}
	return c
}

// serve runs a site's server until ctx ends.
func serve(ctx context.Context, s settings) error {
	w, err := startSite(ctx, s)
	if err != nil {
		return err
	}
	from, until := w.authority.Dates()
	if now := s.clock(); now.Before(broker.Built()) {
		s.log.Warn().Time("clock", now).Time("built",
			broker.Built()).Msg(
			"this machine's clock is wrong: it says an earlier time than when this program was built; set it, the devices' times are measured by it")
	}
	s.log.Info().Time("certificates_from", from).Time("certificates_until", until).Str("site",
		w.host.Site()).Str("data", s.data).Str("grpc", w.address).Str("bus", w.bus).Str("pages", w.pages).Str("version",
		version).Msg("serving")
	if err := w.greet(s); err != nil {
		return errors.Join(err, w.stop())
	}
	select {
	case <-ctx.Done():
		s.log.Info().Msg("stopping")
		return w.stop()
	case err := <-w.failed:
		return errors.Join(err, w.stop())
	}
}

// Invitations that every start gives out.
var (
	firstForeman = enrol.Invitation{Role: event.Foreman, For: 12 * time.Hour, Uses: 1}
	anyCrew      = enrol.Invitation{Role: event.CrewRole, For: 12 * time.Hour, Uses: 20}
)

// greet says where the server listens and how devices join.
func (w *site) greet(s settings) error {
	fmt.Printf("Site %s; its record is in %s\n", w.host.Site(), s.data)
	fmt.Printf("Listening: %s for joining and questions, %s for events, %s for pages (by a link: hod link)\n",
		w.address, w.bus, w.pages)
	from, until := w.authority.Dates()
	fmt.Printf(
		"Its certificates are good from %s to %s, and are renewed by themselves; a device whose clock lies outside cannot join.\n", from.Format(time.DateOnly), until.Format(time.DateOnly))
	if s.outer.cert == "" && s.outer.plain == "" {
		fmt.Printf("Its authority in words: %s\n", strings.Join(auth.FingerprintOf(w.authority.DER()).Words(), " "))
		fmt.Printf(
			"A phone that is to open the pages without a question fetches it at https://%s/authority, and installs it if these words stand there.\n", w.pages)
	}
	if ip := net.ParseIP(s.listen); ip != nil && ip.IsLoopback() {
		fmt.Println("Only this machine can reach it; `hodd --listen 0.0.0.0` lets in the devices on the network.")
	}
	if !w.hasForeman() {
		c, err := w.code(firstForeman)
		if err != nil {
			return err
		}
		fmt.Printf("\nThe foreman's device joins once, within 12 hours, with\n  hod join %s\n", c)
	}
	c, err := w.code(anyCrew)
	if err != nil {
		return err
	}
	fmt.Printf("\nUp to 20 devices of crews join, within 12 hours, with\n  hod join %s --crew NAME\n", c)
	fmt.Println("\nMore codes: `hodd invite --role crew --crew north`. Ctrl-C stops the server; all that it has stays.")
	return nil
}

func (w *site) hasForeman() bool {
	for _, m := range w.host.Members() {
		if m.Role == event.Foreman && !m.Revoked {
			return true
		}
	}
	return false
}
