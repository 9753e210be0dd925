package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	mrand "math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nkeys"

	"hod/internal/bus"
	"hod/server/broker"
)

// asNode makes the test's program a NATS server; the value is its configuration.
const asNode = "HODD_TEST_AS_NODE"

func runNode(config string) error {
	options, err := server.ProcessConfigFile(config)
	if err != nil {
		return err
	}
	s, err := server.NewServer(options)
	if err != nil {
		return err
	}
	s.SetLoggerV2(quiet{}, false, false, false)
	s.Start()
	s.WaitForShutdown()
	return nil
}

// quiet says what ends a server, and nothing else.
type quiet struct{}

func (quiet) Noticef(string, ...any)      {}
func (quiet) Warnf(string, ...any)        {}
func (quiet) Errorf(string, ...any)       {}
func (quiet) Debugf(string, ...any)       {}
func (quiet) Tracef(string, ...any)       {}
func (quiet) Fatalf(f string, say ...any) { fmt.Fprintf(os.Stderr, f+"\n", say...); os.Exit(1) }

// cluster is three NATS servers, each a process of its own, by deploy/cluster.conf.
type cluster struct {
	t           *testing.T
	config      string
	credentials string
	ca          string
	addresses   []string // where clients reach each
	bridges     []*bridge
	env         [][]string
	nodes       []*exec.Cmd
	side        []*buffer
	nc          *nats.Conn
}

// freePorts that nobody listened on a moment ago. A server that comes back must be where it was.
func freePorts(t *testing.T, n int) []string {
	t.Helper()
	var ports []string
	for range n {
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer ln.Close()
		ports = append(ports, ln.Addr().String())
	}
	return ports
}

func newCluster(t *testing.T, data string) *cluster {
	t.Helper()
	dir := t.TempDir()
	c := &cluster{
		t: t, config: filepath.Join(dir, "cluster.conf"), nodes: make([]*exec.Cmd, 3),
		side: make([]*buffer, 3),
	}
	text, err := os.ReadFile("../../deploy/cluster.conf")
	if err != nil {
		t.Fatal(err)
	}
	file := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	file("cluster.conf", []byte(strings.ReplaceAll(string(text), "north-dome", "dune")))
	// The site's authority is made before its server starts, so that the cluster can show its certificates.
	authority := filepath.Join(data, authorityDir)
	a, err := broker.OpenAuthority(authority, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	c.ca = file("ca.crt", a.PEM())
	cert, key := signedBy(t, authority, file)
	routeCert, routeKey, routeCA := routeCertificates(t, file)
	_, secret, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	pair, err := nkeys.FromRawSeed(nkeys.PrefixByteUser, secret.Seed())
	if err != nil {
		t.Fatal(err)
	}
	seed, err := pair.Seed()
	if err != nil {
		t.Fatal(err)
	}
	c.credentials = file("host.nk", seed)
	name := func(p nkeys.PrefixByte) string {
		b, err := nkeys.Encode(p, secret.Public().(ed25519.PublicKey))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	ports := freePorts(t, 6)
	c.addresses = ports[:3]
	routes := "[tls://" + strings.Join(ports[3:], ", tls://") + "]"
	for i := range 3 {
		b := newBridge(t)
		b.leadTo(c.addresses[i])
		c.bridges = append(c.bridges, b)
		var env []string
		for name, value := range map[string]string{
			"NODE": nodeName(i), "LISTEN": ports[i], "ROUTE": ports[3+i], "ROUTES": routes, "STORE": filepath.Join(dir,
				nodeName(i)),
			"CERT": cert, "KEY": key, "ROUTE_CERT": routeCert, "ROUTE_KEY": routeKey, "ROUTE_CA": routeCA,
			"HOST": name(nkeys.PrefixByteUser), "ISSUER": name(nkeys.PrefixByteAccount),
		} {
			env = append(env, "HOD_"+name+"="+value)
		}
		c.env = append(c.env, env)
		c.start(i)
	}
	t.Cleanup(func() {
		for i := range 3 {
			c.kill(i)
		}
	})
	outside, err := broker.Connect(t.Context(), broker.Outside{
		URL:         "tls://" + strings.Join(c.reachable(), ",tls://"),
		Credentials: c.credentials, CA: a.PEM(),
	})
	if err != nil {
		t.Fatal(err)
	}
	c.nc = outside.Conn()
	t.Cleanup(outside.Stop)
	return c
}

// reachable waits until all three take connections.
func (c *cluster) reachable() []string {
	c.t.Helper()
	for i, address := range c.addresses {
		until(c.t, "node "+nodeName(i)+" listens", func() bool {
			if text := c.side[i].String(); text != "" {
				c.t.Fatalf("node %s ended: %s", nodeName(i), text)
			}
			conn, err := net.Dial("tcp", address)
			if err != nil {
				return false
			}
			return conn.Close() == nil
		})
	}
	return c.addresses
}

func nodeName(i int) string { return string(rune('a' + i)) }

func (c *cluster) start(i int) {
	c.t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(append(os.Environ(), asNode+"="+c.config), c.env[i]...)
	c.side[i] = &buffer{}
	cmd.Stderr = c.side[i]
	dieWithTest(cmd)
	if err := cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.nodes[i] = cmd
}

func (c *cluster) kill(i int) {
	if c.nodes[i] != nil {
		_ = c.nodes[i].Process.Kill()
		_ = c.nodes[i].Wait()
		c.nodes[i] = nil
	}
}

// leader of the stream, and whether all three have all of it.
func (c *cluster) leader() (node int, whole bool) {
	js, err := jetstream.New(c.nc)
	if err != nil {
		return -1, false
	}
	ctx, end := context.WithTimeout(c.t.Context(), 5*time.Second)
	defer end()
	s, err := js.Stream(ctx, bus.Stream("dune"))
	if err != nil || s.CachedInfo().Cluster == nil {
		return -1, false
	}
	at := s.CachedInfo().Cluster
	whole = len(at.Replicas) == 2
	for _, r := range at.Replicas {
		whole = whole && r.Current && !r.Offline
	}
	for i := range 3 {
		if nodeName(i) == at.Leader {
			return i, whole
		}
	}
	return -1, false
}

// urls as hodd takes them, and gives them to devices: over bridges.
func (c *cluster) urls() string {
	var all []string
	for _, b := range c.bridges {
		all = append(all, "tls://"+b.address())
	}
	return strings.Join(all, ",")
}

// signedBy the site's authority: a certificate for a server that devices reach, and its key.
func signedBy(t *testing.T, authority string, file func(string, []byte) string) (cert, key string) {
	t.Helper()
	a, err := broker.OpenAuthority(authority, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	settings, err := a.TLS(time.Now, "127.0.0.1")
	if err != nil {
		t.Fatal(err)
	}
	shown, err := settings.GetCertificate(nil)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := x509.MarshalPKCS8PrivateKey(shown.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	var chain []byte
	for _, der := range shown.Certificate {
		chain = append(chain, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})...)
	}
	return file("server.crt", chain),
		file("server.key", pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw}))
}

// routeCertificates are what the three show each other.
func routeCertificates(t *testing.T, file func(string, []byte) string) (cert, key, ca string) {
	t.Helper()
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	// One that signed itself is its own authority.
	self := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "routes"}, NotBefore: time.Now().Add(-time.Hour),
		NotAfter: time.Now().Add(24 * time.Hour),
		IsCA:     true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, self, self, secret.Public(), secret)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := x509.MarshalPKCS8PrivateKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	cert = file("route.crt", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
	return cert, file("route.key", pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw})), cert
}

// blows are what the servers take, in turn.
var blows = []string{"the leader dies", "the leader and another die", "the leader stands still", "all three die"}

// strike the cluster whose leader is known. meanwhile waits until the devices have got more acknowledged; it is called
// where enough servers are left for that.
func (c *cluster) strike(blow string, leader int, meanwhile func()) {
	dead := []int{leader}
	switch blow {
	case "the leader and another die":
		dead = append(dead, (leader+1)%3)
	case "all three die":
		dead = []int{0, 1, 2}
	case "the leader stands still":
		if still(c.nodes[leader].Process, true) {
			meanwhile() // another leads, and this one does not know it when it wakes
			still(c.nodes[leader].Process, false)
			return
		}
	}
	for _, i := range dead {
		c.kill(i)
	}
	if len(dead) == 1 {
		meanwhile()
	}
	for _, i := range dead {
		c.start(i)
	}
}

// The leader of three servers that keep the stream dies while devices send, alone or with others, or stands still,
// again and again; hodd is connected to them from outside, and lets the devices in by answering them. In the end one
// device is revoked, and its connections to all three end.
func TestKilledLeaderOfACluster(t *testing.T) {
	if testing.Short() && *rounds == 0 {
		t.Skip("three servers take half a minute to agree and agree again; not in the short form")
	}
	t.Parallel()
	n := roundsOr(2, 2)
	random := mrand.New(mrand.NewPCG(1, 44))
	root, w := t.TempDir(), newWay(t)
	c := newCluster(t, filepath.Join(root, "server"))
	until(t, "hodd can make its stream",
		func() bool { return bus.Ensure(t.Context(), c.nc, "dune", clusterReplicas) == nil })
	outside := []string{"--nats", c.urls(), "--nats-credentials", c.credentials, "--nats-ca", c.ca}
	s, devices := crew(t, root, w, 2, outside...)
	for _, d := range devices[1:] {
		d.start()
	}
	struck := map[string]int{}
	defer func() {
		if t.Failed() {
			log := s.errors.String()
			leader, whole := c.leader()
			t.Logf("blows %v; the leader is %d, all have the whole stream: %v; the last of hodd's log:\n%s", struck,
				leader, whole, log[max(0, len(log)-4000):])
		}
	}()
	for round := range n {
		_, at := sumOf(devices)
		more := 1 + random.IntN(12)
		until(t, "the server says that it has more",
			func() bool { _, now := sumOf(devices); return now >= at+uint64(more) })
		leader := -1
		until(t, "all three have the whole stream", func() (whole bool) {
			leader, whole = c.leader()
			return whole &&
				leader >= 0
		})
		time.Sleep(time.Duration(random.IntN(20)) * time.Millisecond) // at no particular moment
		blow := blows[round%len(blows)]
		if n <= 2 { // the short form has the two that differ most
			blow = blows[2*round%len(blows)]
		}
		struck[blow]++
		c.strike(blow, leader, func() {
			_, at := sumOf(devices)
			until(t, "two servers take in more", func() bool { _, now := sumOf(devices); return now > at })
		})
		c.reachable()
		// Every other round the roads are bad as well, those of hodd and of the devices.
		for _, b := range c.bridges {
			b.hinder(nil)
			if random.IntN(2) == 0 {
				b.hinder(badLuck(random))
			}
			b.cut()
		}
		if round%10 == 9 {
			_, at := sumOf(devices)
			t.Logf("after %d rounds: %d events heard to be at the server", round+1, at)
		}
	}
	for _, d := range devices {
		d.kill()
	}
	for _, b := range c.bridges {
		b.hinder(nil)
		b.cut()
	}
	settle(t, devices...)
	settle(t, devices...)
	s.killed()
	sum := account(t, s.dir, devices...)
	t.Logf("%d blows (%v): %d events acknowledged, %d lost, %d doubled", n, struck, sum.told, sum.lost, sum.doubled)
	if sum.told < 2*n {
		t.Errorf("only %d events were acknowledged in %d rounds; the test does not hit", sum.told, n)
	}
	s = serving(t, s.dir, w, outside...)
	c.revoked(s.dir, devices[2])
	s.killed()
}

// revoked sees that a device that is connected to all three is put out of each.
func (c *cluster) revoked(dir string, d *device) {
	c.t.Helper()
	var lines []*bus.Line
	for _, address := range c.addresses {
		access := d.access
		access.Address = address
		until(c.t, "a device is connected to "+address, func() bool {
			l, err := bus.Dial(c.t.Context(), access)
			if err == nil {
				lines = append(lines, l)
				c.t.Cleanup(l.Close)
			}
			return err == nil
		})
	}
	for _, l := range lines {
		until(c.t, "the device is answered", func() bool { return second(l.Heads(c.t.Context())) == nil })
	}
	if r := hodd(c.t, dir, "revoke", string(d.name), "--why", "lost"); r.exit(c.t) != exitDone {
		c.t.Fatal(r.errors.String())
	}
	for i, l := range lines {
		until(c.t, "the device is put out of "+c.addresses[i],
			func() bool { return second(l.Heads(c.t.Context())) != nil })
	}
}
