package main

import (
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/pflag"

	"hod/internal/unit"
)

// settings are what a server is started with.
type settings struct {
	data, site           string
	listen, address      string
	grpcPort, busPort    int
	pagesPort            int
	outer                pagesFlags
	nats, natsKey, natCA string
	space                spaceFlags
	log                  zerolog.Logger
	now                  func() time.Time // the server's clock; the system's if nil
}

// clock is the server's.
func (s settings) clock() time.Time {
	if s.now != nil {
		return s.now()
	}
	return time.Now()
}

// serveFlags are the flags of a server, as they were given.
type serveFlags struct {
	settings
	level string
	env   *envFlags
}

func newServeFlags(f *pflag.FlagSet) *serveFlags {
	w := &serveFlags{env: withEnv(f)}
	w.env.text(&w.data, "data", "HODD_DIR", "",
		"`DIR` of the server's data; otherwise hodd in the folder for state of this user")
	w.env.text(&w.site, "site", "HODD_SITE", "", "`NAME` of the site, at the first start: a to z, 0 to 9 and -")
	w.env.text(&w.listen, "listen", "HODD_LISTEN", "127.0.0.1", "`HOST` to listen on; as it is, this machine only")
	w.env.port(&w.grpcPort, "grpc-port", "HODD_GRPC_PORT", 7420, "`PORT` for questions and joining")
	w.env.port(&w.busPort, "bus-port", "HODD_BUS_PORT", 7421, "`PORT` for the crews' events")
	w.env.port(&w.pagesPort, "pages-port", "HODD_PAGES_PORT", 7422,
		"`PORT` for the pages, to read by a link that the foreman makes")
	w.env.text(&w.outer.address, "pages-address", "HODD_PAGES_ADDRESS", "",
		"`HOST` or HOST:PORT by which people reach the pages, for links; otherwise as devices reach this machine")
	w.env.text(&w.outer.cert, "pages-cert", "HODD_PAGES_CERT", "",
		"`FILE` with a certificate for the pages that browsers know, PEM; it is read anew when it changes")
	w.env.text(&w.outer.key, "pages-key", "HODD_PAGES_KEY", "", "`FILE` with its key, PEM")
	w.env.text(&w.outer.plain, "pages-plain", "HODD_PAGES_PLAIN", "",
		"`ADDRESS` of this machine, 127.0.0.1:7423, at which a proxy finds the pages without TLS")
	w.env.text(&w.address, "address", "HODD_ADDRESS", "", "`HOST` by which devices reach this machine, for the codes")
	w.env.text(&w.nats, "nats", "HODD_NATS", "", "`URL` of NATS servers to use instead of the one inside")
	w.env.text(&w.natsKey, "nats-credentials", "HODD_NATS_CREDENTIALS", "", "`FILE` to sign in there with")
	w.env.text(&w.natCA, "nats-ca", "HODD_NATS_CA", "", "`FILE` of the authority that signed their certificates, PEM")
	w.env.size(&w.space.stream, "stream-quota", "HODD_STREAM_QUOTA",
		"`SIZE` that the stream may fill, as in 20GiB; otherwise a third of the disk")
	w.env.size(&w.space.archive, "archive-quota", "HODD_ARCHIVE_QUOTA",
		"`SIZE` that the archive may fill; otherwise a third of the disk")
	w.env.size(&w.space.reserve, "disk-reserve", "HODD_DISK_RESERVE",
		"`SIZE` of the disk that stays free; otherwise 256MiB")
	w.env.text(&w.level, "log", "HODD_LOG", "info", "`LEVEL` on stderr: debug, info, warn or error")
	return w
}

// read gives the settings that the flags make, or says which of them cannot be.
func (w *serveFlags) read() (settings, error) {
	s := w.settings
	if w.env.err != nil {
		return s, w.env.err
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
	if err := s.outer.check(); err != nil {
		return s, err
	}
	if err := s.space.check(); err != nil {
		return s, err
	}
	if strings.ContainsAny(s.address, "/ ") {
		return s, usage("--address %q is not the name of a machine; one looks like hod.example or 192.0.2.7", s.address)
	}
	l, err := zerolog.ParseLevel(w.level)
	if err != nil || w.level == "" {
		return s, usage("--log %q is none of debug, info, warn, error", w.level)
	}
	s.log = newLog(os.Stderr).Level(l)
	s.data, err = dataFolder(s.data)
	return s, err
}

// envFlags are flags whose values may also stand in the environment.
type envFlags struct {
	*pflag.FlagSet
	err error
}

func withEnv(f *pflag.FlagSet) *envFlags { return &envFlags{FlagSet: f} }

func (w *envFlags) text(to *string, name, env, usual, help string) {
	if v := os.Getenv(env); v != "" {
		usual = v
	}
	w.StringVar(to, name, usual, help+" ("+env+")")
}

func (w *envFlags) port(to *int, name, env string, usual int, help string) {
	if v := os.Getenv(env); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil {
			w.err = usage("%s=%s is not a port; one looks like %d", env, v, usual)
		}
		usual = n
	}
	w.IntVar(to, name, usual, help+" ("+env+")")
}

// sizeValue is a size as the value of a flag.
type sizeValue struct{ to *int64 }

func (v sizeValue) Set(text string) (err error) {
	*v.to, err = unit.ParseBytes(text)
	return err
}

func (v sizeValue) String() string {
	if v.to == nil || *v.to == 0 {
		return ""
	}
	return unit.FormatBytes(*v.to)
}

func (sizeValue) Type() string { return "size" }

func (w *envFlags) size(to *int64, name, env, help string) {
	v := sizeValue{to}
	if text := os.Getenv(env); text != "" {
		if err := v.Set(text); err != nil {
			w.err = usage("%s=%s: %v", env, text, err)
		}
	}
	w.Var(v, name, help+" ("+env+")")
}

// data is the flag of the data folder, which all commands have that work on one.
func (w *envFlags) data(to *string) {
	w.text(to, "data", "HODD_DIR", "",
		"`DIR` of the server's data; otherwise hodd in the folder for state of this user")
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
