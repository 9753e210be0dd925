package broker

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
)

// minVersion is the oldest server outside that is spoken to: older ones have published faults by which one who may
// publish a little could do a lot (advisories of 2026).
var minVersion = [3]int{2, 14, 3}

// flushTimeout is how long a cluster may take to begin an answer, and the host's connection to send what waits.
const flushTimeout = 2 * time.Second

// stillAlive is how often the host asks a server whether it is alive; after three such times without a word it goes to
// another.
const stillAlive = 10 * time.Second

// Outside is where a cluster is and how the host signs in there.
type Outside struct {
	URL         string // one server or several, parted by commas; nats:// or tls://
	Credentials string // file with the host's credentials, or with its NKey seed; empty if the URL says it all
	CA          []byte // PEM of the authority that signs the cluster's certificates; empty for the system's
}

// Cluster is the host's connection to servers outside the process. It comes back by itself when it is cut.
type Cluster struct {
	conn   *nats.Conn
	issuer nkeys.KeyPair // of answers to who may connect; nil where the host has no NKey
	// Warning says, in a sentence, what the cluster could not be shown to do; empty if nothing.
	Warning string
}

// Connect connects the host to a cluster. It refuses servers older than 2.14.3, and warns when it cannot be shown that
// every server flushes what it acknowledges. Devices are let in by ServeAuthCallout, or by the cluster's own
// configuration.
func Connect(ctx context.Context, o Outside) (*Cluster, error) {
	options := []nats.Option{
		nats.Name(hostUser), nats.Timeout(5 * time.Second),
		nats.MaxReconnects(-1), nats.ReconnectWait(time.Second), nats.ReconnectJitter(500*time.Millisecond,
			time.Second),
		// A server that stands still takes what is sent and never answers: another of them is to be found soon.
		nats.PingInterval(stillAlive), nats.MaxPingsOutstanding(2),
	}
	settings := &tls.Config{MinVersion: tls.VersionTLS13}
	if len(o.CA) > 0 {
		settings.RootCAs = x509.NewCertPool()
		if !settings.RootCAs.AppendCertsFromPEM(o.CA) {
			return nil, errors.New("the authority given for the cluster is no certificate in PEM")
		}
		options = append(options, nats.Secure(settings))
	} else {
		// used if the servers ask for TLS
		options = append(options, func(n *nats.Options) error { n.TLSConfig = settings; return nil })
	}
	if o.Credentials != "" {
		signIn, err := signIn(o.Credentials)
		if err != nil {
			return nil, err
		}
		options = append(options, signIn)
	}
	conn, err := nats.Connect(o.URL, options...)
	if err != nil {
		return nil, fmt.Errorf("connect to the cluster at %s: %w", bare(o.URL), err)
	}
	if err := newEnough(conn.ConnectedServerVersion()); err != nil {
		conn.Close()
		return nil, fmt.Errorf("the cluster at %s: %w", bare(o.URL), err)
	}
	c := &Cluster{conn: conn}
	if o.Credentials != "" {
		c.issuer = issuerFrom(o.Credentials)
	}
	if !flushes(ctx, conn) {
		c.Warning = "it cannot be shown that the cluster flushes what it acknowledges: see that every server has sync_interval: always in its jetstream block, or a power cut loses what devices were told is safe"
	}
	return c, nil
}

// Conn is the host's connection.
func (c *Cluster) Conn() *nats.Conn { return c.conn }

// Stop sends what waits and closes the connection.
func (c *Cluster) Stop() {
	// a cluster that is away is told nothing; what is not acknowledged is not counted on
	_ = c.conn.FlushTimeout(2 * time.Second)
	c.conn.Close()
}

func signIn(file string) (nats.Option, error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("the host's credentials for the cluster: %w", err)
	}
	if strings.Contains(string(raw), "BEGIN NATS USER JWT") {
		return nats.UserCredentials(file), nil
	}
	option, err := nats.NkeyOptionFromSeed(file)
	if err != nil {
		return nil, fmt.Errorf("%s holds neither credentials nor the seed of an NKey: %w", file, err)
	}
	return option, nil
}

// bare is an address without the secret that may stand in it.
func bare(urls string) string {
	var out []string
	for _, u := range strings.Split(urls, ",") {
		scheme, rest, ok := strings.Cut(u, "://")
		if !ok {
			scheme, rest = "nats", u
		}
		out = append(out, scheme+"://"+rest[strings.LastIndex(rest, "@")+1:])
	}
	return strings.Join(out, ",")
}

func newEnough(version string) error {
	number, _, _ := strings.Cut(strings.TrimPrefix(version, "v"), "-")
	number, _, _ = strings.Cut(number, "+")
	parts := strings.Split(number, ".")
	for i, least := range minVersion {
		n := -1
		if i < len(parts) {
			if v, err := strconv.Atoi(parts[i]); err == nil {
				n = v
			}
		}
		switch {
		case n > least:
			return nil
		case n < least:
			return fmt.Errorf("its server is version %q; versions below %d.%d.%d have known faults and are refused",
				version, minVersion[0], minVersion[1], minVersion[2])
		}
	}
	if strings.Contains(version, "-") { // a trial version comes before the one that it tries
		return fmt.Errorf("its server is version %q, a trial one; %d.%d.%d or later is wanted", version, minVersion[0],
			minVersion[1], minVersion[2])
	}
	return nil
}

// flushes asks every server for its settings, where the host may. One that does not answer is not seen; one that
// answers otherwise decides.
func flushes(ctx context.Context, conn *nats.Conn) bool {
	answers, err := askNodes(ctx, conn, storageSubject, map[string]bool{"config": true})
	if err != nil {
		return false
	}
	for _, raw := range answers {
		var said struct {
			Data struct {
				Config struct {
					Always bool `json:"sync_always"`
				} `json:"config"`
			} `json:"data"`
		}
		if json.Unmarshal(raw, &said) != nil || !said.Data.Config.Always {
			return false
		}
	}
	return len(answers) > 0
}
