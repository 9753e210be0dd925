package main

import (
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"encoding/pem"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	"github.com/rs/zerolog"

	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/event"
	"hod/server/admin"
	"hod/server/api"
	"hod/server/broker"
	"hod/server/enrol"
	"hod/server/host"
	"hod/server/limit"
	"hod/server/web"
)

// clusterReplicas is how many of a cluster's servers keep the stream.
const clusterReplicas = 3

// Folders below the data folder that are not the host's.
const (
	authorityDir = "authority"
	streamDir    = "stream"
)

// site is a server that runs: the log, the stream to it and the answers from it, put together.
type site struct {
	addresses
	life

	data      string // folder
	host      *host.Host
	authority *broker.Authority
	api       *api.API
	web       *web.Web
	admin     *admin.Server
	stream    *siteStream
	limiter   *rateLimiter
	space     *guard
	log       zerolog.Logger
}

// addresses are host:port.
type addresses struct {
	address string // where devices reach the answers
	bus     string // where devices reach the bus
	pages   string // where people read the pages
}

// life is how the parts of a server end.
type life struct {
	failed    chan error      // what ends a part by itself
	alive     context.Context // until follow is called
	follow    context.CancelFunc
	following chan struct{}
	late      sync.WaitGroup // what ends the connections of devices
	ending    sync.Once
	ended     error
}

// siteStream is the broker inside, or the way to the one outside: a stream that is made when it is not there, the first
// time and after its disk was lost.
type siteStream struct {
	*bus.Host
	limiter *rateLimiter
	lifting sync.Mutex // held while the limit of what it holds is set
	ensure  func(context.Context) error
	stop    func()
	kick    func(context.Context, event.Device) // ends a device's live connections; admit refuses it before
}

// State makes the stream first if it must.
func (r *siteStream) State(ctx context.Context) (bus.State, error) {
	s, err := r.Host.State(ctx)
	if err == nil || ctx.Err() != nil {
		return s, err
	}
	r.lifting.Lock() // what makes it keeps the limit that it finds
	err = r.ensure(ctx)
	r.lifting.Unlock()
	if err != nil {
		return bus.State{}, err
	}
	return r.Host.State(ctx)
}

// startSite starts all of a server. It serves when startSite returns; stop ends it.
func startSite(ctx context.Context, s settings) (_ *site, err error) {
	w := &site{data: s.data, log: s.log, life: life{failed: make(chan error, 4)}}
	defer func() {
		if err != nil {
			err = errors.Join(err, w.stop())
		}
	}()
	if w.host, err = host.Open(s.data, host.Config{Site: s.site, Now: s.now, Log: s.log}); err != nil {
		return nil, err
	}
	root, _ := w.host.Root()
	w.limiter = newRateLimiter(w.host.Now, root)
	if w.authority, err = broker.OpenAuthority(filepath.Join(s.data, authorityDir), s.clock()); err != nil {
		return nil, err
	}
	reach := advertised(s)
	certified, err := w.authority.TLS(s.clock, reach, "localhost", "127.0.0.1", "::1")
	if err != nil {
		return nil, err
	}
	at := net.JoinHostPort(s.listen, strconv.Itoa(s.grpcPort))
	listener, err := net.Listen("tcp", at)
	if err != nil {
		return nil, listening("questions and joining", "--grpc-port", at, err)
	}
	w.address = net.JoinHostPort(reach, portOf(listener.Addr().String()))
	at, flag := net.JoinHostPort(s.listen, strconv.Itoa(s.pagesPort)), "--pages-port"
	if s.outer.plain != "" {
		at, flag = s.outer.plain, "--pages-plain"
	}
	read, err := net.Listen("tcp", at)
	if err != nil {
		return nil, errors.Join(listening("the pages", flag, at, err), listener.Close())
	}
	w.pages = s.outer.outside(reach, portOf(read.Addr().String()))
	if err = w.answer(ctx, s, certified, reach, listener, read); err != nil {
		return nil, errors.Join(err, listener.Close(), read.Close())
	}
	return w, remember(s.data, w.address)
}

// answer opens the stream, reads what it holds, and answers questions on one listener and shows pages on the other.
func (w *site) answer(ctx context.Context, s settings, certified *tls.Config, reach string, questions,
	read net.Listener,
) (err error) {
	if err = w.openRoad(ctx, s, certified, reach); err != nil {
		return err
	}
	w.space = newGuard(w)
	if err = w.followStream(); err != nil {
		return err
	}
	if err = w.space.begin(ctx, s.space); err != nil {
		w.log.Warn().Err(err).Msg("how much space is used is not known yet; trying again")
	}
	w.late.Go(func() { w.space.keep(w.alive) })
	known := s.outer.cert != "" || s.outer.plain != ""
	places := limit.Answers()
	w.api, err = api.New(api.Config{
		Places: places,
		Host:   w.host, TLS: certified, Bus: w.bus, Pages: w.pages, PagesKnown: known,
		Authority: w.authority.DER(), Log: s.log, Ended: w.putOut, Built: broker.Built(), Notice: w.space.notice,
	})
	if err != nil {
		return err
	}
	shown, own := certified, w.authority.DER()
	if known {
		own = nil
	}
	switch {
	case s.outer.plain != "":
		shown = nil
	case s.outer.cert != "":
		files, err := openCertificate(s.outer.cert, s.outer.key, s.clock, s.log)
		if err != nil {
			return err
		}
		shown = &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: files.certificate}
	}
	w.web = web.New(web.Config{
		Host: w.host, TLS: shown, Authority: own, Place: w.api.Place, Log: s.log, Notice: w.space.notice,
		Places: places,
	})
	go func() {
		if err := w.api.Serve(questions); err != nil {
			w.failed <- err
		}
	}()
	go func() {
		if err := w.web.Serve(read); err != nil {
			w.failed <- err
		}
	}()
	return nil
}

// openRoad starts the broker inside, or connects to the one outside.
func (w *site) openRoad(ctx context.Context, s settings, certified *tls.Config, reach string) error {
	if s.nats != "" {
		return w.connect(ctx, s)
	}
	at := net.JoinHostPort(s.listen, strconv.Itoa(s.busPort))
	// The broker would try for half a minute and not say why.
	probe, err := net.Listen("tcp", at)
	if err != nil {
		return listening("the crews' events", "--bus-port", at, err)
	}
	if err := probe.Close(); err != nil {
		return listening("the crews' events", "--bus-port", at, err)
	}
	inside, err := broker.Start(ctx, broker.Config{
		Dir: filepath.Join(s.data, streamDir), Listen: at, TLS: certified, Site: w.host.Site(), Log: s.log,
		Admit: w.admit,
	})
	if err != nil {
		return err
	}
	id, conn := w.host.Site(), inside.Conn()
	w.bus = net.JoinHostPort(reach, portOf(inside.Address()))
	w.stream = &siteStream{
		stop: inside.Stop, kick: func(_ context.Context, d event.Device) { inside.Kick(d) },
		ensure: func(ctx context.Context) error { return bus.Ensure(ctx, conn, id, 1) },
	}
	w.stream.Host, err = bus.NewHost(conn, id)
	return err
}

func (w *site) connect(ctx context.Context, s settings) error {
	var authority []byte
	if s.natCA != "" {
		var err error
		if authority, err = os.ReadFile(s.natCA); err != nil {
			return usage("--nats-ca: %v", err)
		}
	}
	outside, err := broker.Connect(ctx, broker.Outside{URL: s.nats, Credentials: s.natsKey, CA: authority})
	if err != nil {
		return network{err}
	}
	if outside.Warning != "" {
		w.log.Warn().Msg(outside.Warning)
	}
	id, conn := w.host.Site(), outside.Conn()
	w.bus = addressesOf(s.nats)
	unasked, err := outside.ServeAuthCallout(id, w.admit, s.log)
	kick := func(ctx context.Context, d event.Device) {
		if w.kicked(d, func() (int, error) { return outside.Kick(ctx, d) }) {
			w.late.Go(func() { w.kicked(d, func() (int, error) { return outside.KickLate(ctx, d) }) })
		}
	}
	if err != nil {
		// The cluster lets devices in by its own configuration: whoever runs it takes the key out there.
		w.log.Warn().Err(err).Msg("which devices may connect is for the cluster's own configuration to say")
		unasked = func() {}
		kick = func(_ context.Context, d event.Device) {
			w.log.Warn().Str("device",
				string(d)).Msg(
				"who may connect is for the cluster's own configuration to say: take the key of this device out there, for good if it was revoked")
		}
	}
	stop := func() { unasked(); outside.Stop() }
	w.stream = &siteStream{stop: stop, kick: kick, ensure: func(ctx context.Context) error {
		return bus.Ensure(ctx, conn, id, clusterReplicas)
	}}
	w.stream.Host, err = bus.NewHost(conn, id)
	return err
}

// kicked says what came of ending a device's connections to a cluster, and whether to try on.
func (w *site) kicked(d event.Device, kick func() (int, error)) bool {
	n, err := kick()
	switch {
	case errors.Is(err, context.Canceled): // the server stops
		return false
	case errors.Is(err, broker.ErrCannotKick):
		w.log.Warn().Str("device",
			string(d)).Msg(
			"the cluster does not let this device in now, and ends a connection that it has within 15 minutes; " +
				"with the exports and imports of deploy/cluster.conf it would be at once")
		return false
	case err != nil:
		w.log.Error().Err(err).Str("device", string(d)).Int("ended",
			n).Msg("the cluster does not let this device in now, " +
			"but its connections could not all be ended; they last 15 minutes at most")
	case n > 0:
		w.log.Info().Str("device", string(d)).Int("ended",
			n).Msg("the connections of this device to the cluster were ended")
	}
	return true
}

// putOut ends the connections of a device that may not write any more.
func (w *site) putOut(d event.Device) {
	w.late.Go(func() { w.stream.kick(w.alive, d) })
}

// exclude also ends the connections of those who may not take part any more: they came in by what does not count now.
func (w *site) exclude(d event.Device, from uint64, why string) (uint64, error) {
	before := w.host.Members()
	n, err := w.host.Exclude(d, from, why)
	for _, m := range before {
		if now, in := w.host.Member(m.Device); !m.Revoked && (!in || now.Revoked) {
			w.putOut(m.Device)
		}
	}
	return n, err
}

// followStream lets the log take in what the stream holds, and answers for its heads.
func (w *site) followStream() error {
	// The host's own life, not that of the caller: it ends in order, by stop.
	ctx, cancel := context.WithCancel(context.Background())
	w.alive, w.follow, w.following = ctx, cancel, make(chan struct{})
	w.stream.limiter = w.limiter
	w.limiter.out = func(d event.Device) {
		w.log.Warn().Str("device",
			string(d)).Msgf("a device brings more than %d segments or %d MiB at once; it is put out for %v",
			segmentsAtOnce, bytesAtOnce>>20, blockedFor)
		w.late.Go(func() { w.stream.kick(ctx, d) })
	}
	go func() {
		defer close(w.following)
		if err := w.host.Follow(ctx, w.stream); err != nil {
			w.failed <- err
		}
	}()
	var err error
	w.admin, err = admin.Listen(w.data, admin.Orders{
		Revoke: func(_ context.Context, d event.Device, why string) error {
			err := w.host.Revoke(d, why)
			if err == nil {
				w.stream.kick(ctx, d) // whoever ordered it may be gone by now: the connections end all the same
			}
			return err
		},
		Exclude: func(_ context.Context, d event.Device, from uint64, why string) (uint64, error) {
			return w.exclude(d, from, why)
		},
		Space:       w.space.order,
		CheckStream: func(ctx context.Context) (host.StreamChecked, error) { return w.host.CheckStream(ctx, w.stream) },
	}, w.log)
	if err != nil {
		return err
	}
	go func() {
		if err := w.admin.Serve(); err != nil {
			w.failed <- err
		}
	}()
	_, err = w.stream.ServeHeads(func() bus.Heads {
		return bus.Heads{
			Heads: w.host.Heads(), BackedUp: w.host.BackedUp(), Now: w.host.Now(),
			Notice: w.space.notice(),
		}
	})
	return err
}

// admit is who may use the bus: whom the log enrols, and did not revoke.
func (w *site) admit(key ed25519.PublicKey) (broker.Rights, error) {
	switch m, ok := w.host.Rights(key); {
	case !ok:
		return broker.Rights{}, errors.New("no device of this site has that key")
	case m.Revoked:
		return broker.Rights{}, fmt.Errorf("device %s was revoked", m.Device)
	case w.limiter.blocked(m.Device):
		return broker.Rights{}, fmt.Errorf("device %s brought too much at once, and is put out for %v", m.Device,
			blockedFor)
	default:
		return broker.Rights{Device: m.Device, Role: m.Role}, nil
	}
}

// code is an invitation as a device takes it.
func (w *site) code(i enrol.Invitation) (auth.Code, error) {
	secret, err := w.host.Invite(i)
	if err != nil {
		return auth.Code{}, err
	}
	return codeFor(w.address, secret, w.authority)
}

func codeFor(address string, secret auth.Secret, a *broker.Authority) (auth.Code, error) {
	block, _ := pem.Decode(a.PEM())
	if block == nil {
		return auth.Code{}, errors.New("the site's authority has no certificate")
	}
	c := auth.Code{Address: address, Secret: secret, Fingerprint: auth.FingerprintOf(block.Bytes)}
	if _, err := auth.ParseCode(c.String()); err != nil {
		return auth.Code{}, usage("devices cannot reach a server by the address %q: say another one with --address",
			address)
	}
	return c, nil
}

// stop ends all parts in order: who asks and who writes first, then the log, then the stream below it. Stopping twice
// is stopping once.
func (w *site) stop() error {
	w.ending.Do(func() { w.ended = w.end() })
	return w.ended
}

func (w *site) end() error {
	if w.web != nil {
		w.web.Stop()
	}
	if w.api != nil {
		w.api.Stop()
	}
	if w.admin != nil {
		w.admin.Stop()
	}
	if w.follow != nil {
		w.follow()
		<-w.following
		w.late.Wait()
	}
	var err error
	if w.host != nil {
		err = w.host.Close()
	}
	if w.stream != nil {
		w.stream.stop()
	}
	return err
}

// advertised is the host by which devices reach this machine: what was said, or the address that it listens on, or the
// first of its own that is not only its own.
func advertised(s settings) string {
	if s.address != "" {
		if h, _, err := net.SplitHostPort(s.address); err == nil {
			return h
		}
		return strings.Trim(s.address, "[]")
	}
	ip := net.ParseIP(s.listen)
	if ip == nil || !ip.IsUnspecified() {
		return s.listen
	}
	addresses, err := net.InterfaceAddrs()
	if err == nil {
		for _, a := range addresses {
			if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && n.IP.IsGlobalUnicast() {
				return n.IP.String()
			}
		}
	}
	if name, err := os.Hostname(); err == nil && name != "" {
		return strings.ToLower(name)
	}
	return "127.0.0.1"
}

func portOf(address string) string {
	_, port, err := net.SplitHostPort(address)
	if err != nil {
		return "0"
	}
	return port
}

// addressesOf the cluster's servers, for devices.
func addressesOf(urls string) string {
	var all []string
	for _, one := range strings.Split(urls, ",") {
		if !strings.Contains(one, "://") {
			one = "nats://" + one
		}
		u, err := url.Parse(one)
		if err != nil {
			all = append(all, one)
			continue
		}
		port := u.Port()
		if port == "" {
			port = "4222"
		}
		all = append(all, net.JoinHostPort(u.Hostname(), port))
	}
	return strings.Join(all, ",")
}
