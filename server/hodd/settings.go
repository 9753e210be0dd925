package main

import (
	"errors"
	"flag"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
)

const usageText = `hodd is the server of a site where crews place a thin cement shell by hand.

  hodd                                  run the site's server; the first start makes the site
  hodd --listen 0.0.0.0                 the same, for all devices on the network
  hodd invite --role crew --crew north  a code with which one more device joins, while hodd runs
  hodd revoke n2 --why "lost"           ends what device n2 may do, at once, while hodd runs
  hodd backup /media/stick/vault        a copy of the record, verified, while hodd runs or not
  hodd import vault.hodlog              takes in what a device exported, after the server lost its record; hodd must not run
  hodd verify                           reads all of the record again and checks it from the root key up
  hodd demo                             a site that invents itself, to look around; --stay keeps it running
  hodd version

hodd [serve]
  --data DIR         data folder (HODD_DIR; otherwise hodd in the folder for state of this user)
  --site NAME        name of the site, at the first start (HODD_SITE): a to z, 0 to 9 and -
  --listen HOST      address to listen on (HODD_LISTEN; 127.0.0.1: this machine only)
  --grpc-port PORT   for questions and joining (HODD_GRPC_PORT; 7420)
  --bus-port PORT    for the crews' events (HODD_BUS_PORT; 7421)
  --pages-port PORT  for the pages, to read by a link that the foreman makes (HODD_PAGES_PORT; 7422)
  --address HOST     name or address that devices reach this machine by, for the codes (HODD_ADDRESS)
  --nats URL         use these NATS servers instead of the one inside (HODD_NATS)
  --nats-credentials FILE   sign in there with it (HODD_NATS_CREDENTIALS)
  --nats-ca FILE     authority that signed their certificates, PEM (HODD_NATS_CA)
  --log LEVEL        debug, info, warn or error, on stderr (HODD_LOG; info)

hodd invite
  --role ROLE        crew, foreman, inspector or probe
  --crew CREW        fixes the crew; otherwise the device says it
  --for TIME         how long the code is good, as in 90min, 24h, 7d (24h)
  --uses N           how many devices it lets in (1)
  --data DIR, --address HOST[:PORT]   as above

hodd revoke DEVICE
  --why TEXT         the reason, for the record
  --data DIR         as above

hodd backup DIR, a new folder or an earlier backup of this site
  --data DIR         as above
  DIR gets the root key, too, readable by this user only; to restore, copy it with its modes (cp -a) and run hodd --data COPY

hodd import FILE, as hod export writes it
  --data DIR, --site NAME   as above; a new folder needs root.key and the folder authority first, from a backup

hodd verify
  --data DIR         as above, or a backup

Exit codes: 0 done, also after a signal; 1 unexpected; 2 wrong words; 4 no such device or folder; 5 the data folder
cannot be used, or a fault was found in it;
6 an address cannot be listened on; the cluster, or the server to give an order to, cannot be reached.
`

// settings are what a server is started with.
type settings struct {
	data, site           string
	listen, address      string
	grpcPort, busPort    int
	pagesPort            int
	nats, natsKey, natCA string
	log                  zerolog.Logger
	now                  func() time.Time // the server's clock; the system's if nil
}

// words are flags whose values may also stand in the environment.
type words struct {
	*flag.FlagSet
	getenv func(string) string
	err    error
}

func newWords(name string) *words {
	w := &words{FlagSet: flag.NewFlagSet(name, flag.ContinueOnError), getenv: os.Getenv}
	w.SetOutput(io.Discard)
	w.Usage = func() {}
	return w
}

func (w *words) text(to *string, name, env, usual string) {
	if v := w.getenv(env); v != "" {
		usual = v
	}
	w.StringVar(to, name, usual, "")
}

func (w *words) port(to *int, name, env string, usual int) {
	if v := w.getenv(env); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			w.err = usage("%s=%s is not a port; one looks like %d", env, v, usual)
		}
		usual = n
	}
	w.IntVar(to, name, usual, "")
}

// parse gives errAsked where help was asked for, and printed.
func (w *words) parse(args []string) error {
	if w.err != nil {
		return w.err
	}
	err := w.Parse(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		return errAsked
	case err != nil:
		return usage("%v", err)
	case w.NArg() > 0:
		return usage("%q is too much", w.Arg(0))
	}
	return nil
}

// parseWord takes one word beside the flags, before, between or after them.
func (w *words) parseWord(args []string, what string) (string, error) {
	var found []string
	for {
		if err := w.Parse(args); errors.Is(err, flag.ErrHelp) {
			return "", errAsked
		} else if err != nil {
			return "", usage("%v", err)
		}
		if w.NArg() == 0 {
			break
		}
		found, args = append(found, w.Arg(0)), w.Args()[1:] // the flags may go on behind it
	}
	switch {
	case len(found) == 0:
		return "", usage("%s is missing", what)
	case len(found) > 1:
		return "", usage("%q is too much", found[1])
	}
	return found[0], nil
}

// errAsked is that help was asked for.
var errAsked = errors.New("help was asked for")

func readSettings(args []string) (settings, error) {
	var s settings
	var level string
	w := newWords("hodd")
	w.text(&s.data, "data", "HODD_DIR", "")
	w.text(&s.site, "site", "HODD_SITE", "")
	w.text(&s.listen, "listen", "HODD_LISTEN", "127.0.0.1")
	w.text(&s.address, "address", "HODD_ADDRESS", "")
	w.port(&s.grpcPort, "grpc-port", "HODD_GRPC_PORT", 7420)
	w.port(&s.busPort, "bus-port", "HODD_BUS_PORT", 7421)
	w.port(&s.pagesPort, "pages-port", "HODD_PAGES_PORT", 7422)
	w.text(&s.nats, "nats", "HODD_NATS", "")
	w.text(&s.natsKey, "nats-credentials", "HODD_NATS_CREDENTIALS", "")
	w.text(&s.natCA, "nats-ca", "HODD_NATS_CA", "")
	w.text(&level, "log", "HODD_LOG", "info")
	if err := w.parse(args); err != nil {
		return s, err
	}
	for _, port := range []int{s.grpcPort, s.busPort, s.pagesPort} {
		if port < 0 || port > 65535 {
			return s, usage("%d is not a port; one is from 1 to 65535, or 0 for any that is free", port)
		}
	}
	if s.grpcPort == s.busPort && s.grpcPort != 0 && s.nats == "" {
		return s, usage("--grpc-port and --bus-port are both %d; they must differ", s.grpcPort)
	}
	if s.pagesPort != 0 && (s.pagesPort == s.grpcPort || s.pagesPort == s.busPort && s.nats == "") {
		return s, usage("--pages-port %d is taken by another flag; the ports must differ", s.pagesPort)
	}
	if host, _, err := net.SplitHostPort(s.listen); err == nil {
		return s, usage("--listen takes an address without a port, %s; the ports have flags of their own", host)
	}
	s.listen = strings.Trim(s.listen, "[]")
	if s.listen == "" {
		s.listen = "0.0.0.0"
	}
	if strings.ContainsAny(s.address, "/ ") {
		return s, usage("--address %q is not the name of a machine; one looks like hod.example or 192.0.2.7", s.address)
	}
	l, err := zerolog.ParseLevel(level)
	if err != nil || level == "" {
		return s, usage("--log %q is none of debug, info, warn, error", level)
	}
	s.log = newLog(os.Stderr).Level(l)
	s.data, err = dataFolder(s.data)
	return s, err
}

// dataFolder is that which is said, or hodd in the folder where programs of this user keep their state.
func dataFolder(said string) (string, error) {
	if said != "" {
		return said, nil
	}
	if dir := os.Getenv("XDG_STATE_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "hodd"), nil
	}
	if runtime.GOOS == "windows" {
		if dir := os.Getenv("LocalAppData"); dir != "" {
			return filepath.Join(dir, "hodd"), nil
		}
	}
	home, err := os.UserHomeDir()
	if err != nil || home == "" {
		return "", usage("this user has no home folder: say where the data goes with --data")
	}
	if runtime.GOOS == "darwin" {
		return filepath.Join(home, "Library", "Application Support", "hodd"), nil
	}
	return filepath.Join(home, ".local", "state", "hodd"), nil
}
