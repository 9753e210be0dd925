package broker

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/nats-io/jwt/v2"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
	"github.com/rs/zerolog"
)

// calloutSubject is where a server outside asks about each connection that it does not know.
const calloutSubject = "$SYS.REQ.USER.AUTH"

// userLifetime is how long a device stays connected to a cluster before it has to prove again who it is: where Kick is
// not possible, this is how long a revoked one lasts at most.
const userLifetime = 15 * time.Minute

// ServeAuthCallout answers a cluster that asks who may connect, by the same Admit and the same permissions as the
// broker inside, until stop is called. The cluster asks where its configuration names the host's key as issuer of its
// auth callout; the host signs its answers with the key that it connects with. An error says that it has none:
// credentials made elsewhere sign no answers.
func (c *Cluster) ServeAuthCallout(site string, admit func(ed25519.PublicKey) (Rights, error),
	log zerolog.Logger,
) (stop func(), err error) {
	if c.issuer == nil {
		return nil,
			errors.New(
				"the host connects to the cluster without an NKey seed of its own, so it cannot say there which devices may connect")
	}
	d := authCallout{site: site, admit: admit, issuer: c.issuer, log: log}
	sub, err := c.conn.QueueSubscribe(calloutSubject, hostUser, func(m *nats.Msg) {
		answer, err := d.answer(m.Data)
		if err != nil {
			log.Debug().Err(err).Msg("the cluster asked whether to let a connection in, in words that make no sense")
			return
		}
		_ = m.Respond([]byte(answer)) // who wants in asks again
	})
	if err != nil {
		return nil, fmt.Errorf("answer the cluster that asks who may connect: %w", err)
	}
	if err := c.conn.FlushTimeout(flushTimeout); err != nil {
		_ = sub.Unsubscribe()
		return nil, fmt.Errorf("answer the cluster that asks who may connect: %w", err)
	}
	return func() { _ = sub.Unsubscribe() }, nil // it fails only with the connection
}

// authCallout answers the auth callout of a cluster, as authenticator does for the server inside.
type authCallout struct {
	site   string
	admit  func(ed25519.PublicKey) (Rights, error)
	issuer nkeys.KeyPair
	log    zerolog.Logger
}

func (d authCallout) answer(question []byte) (string, error) {
	asked, err := jwt.DecodeAuthorizationRequestClaims(string(question))
	if err != nil {
		return "", err
	}
	if !nkeys.IsValidPublicUserKey(asked.UserNkey) { // decoding does not look at it, and there is no answer to nobody
		return "", errors.New("the question does not say about which connection it is")
	}
	answer := jwt.NewAuthorizationResponseClaims(asked.UserNkey)
	answer.Audience = asked.Server.ID
	rights, may, err := d.judge(asked)
	if err == nil {
		answer.Jwt, err = d.userJWT(asked.UserNkey, rights, may)
	}
	if err != nil {
		d.log.Debug().Err(err).Str("key", plainKey(asked.ConnectOptions.Nkey)).Msg("a device was not let in")
		answer.Error = "not let in" // the reason is the host's own
	}
	return answer.Encode(d.issuer)
}

func (d authCallout) judge(asked *jwt.AuthorizationRequestClaims) (Rights, Permissions, error) {
	key, ok := verifyNonce(asked.ConnectOptions.Nkey, asked.ConnectOptions.SignedNonce,
		[]byte(asked.ClientInformation.Nonce))
	if !ok {
		return Rights{}, Permissions{}, errors.New("it does not prove to hold the key that it names")
	}
	rights, err := d.admit(key)
	if err != nil {
		return rights, Permissions{}, err
	}
	may, err := PermissionsOf(d.site, rights)
	return rights, may, err
}

// userJWT returns the claims by which the cluster lets the connection in, signed.
func (d authCallout) userJWT(connection string, r Rights, may Permissions) (string, error) {
	user := jwt.NewUserClaims(connection)
	user.Name = string(r.Device)
	user.Audience = crewAccount
	user.Expires = time.Now().Add(userLifetime).Unix()
	user.Limits.Subs = maxSubscriptions
	user.Permissions.Pub.Allow.Add(may.Publish...)
	user.Permissions.Sub.Allow.Add(may.Subscribe...)
	return user.Encode(d.issuer)
}

// issuerFrom is the key that signs the host's answers: that of its NKey, as an account's; nil where it connects
// otherwise.
func issuerFrom(file string) nkeys.KeyPair {
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil
	}
	pair, err := nkeys.ParseDecoratedNKey(raw)
	if err != nil {
		return nil
	}
	seed, err := pair.Seed()
	if err != nil {
		return nil
	}
	_, secret, err := nkeys.DecodeSeed(seed)
	if err != nil {
		return nil
	}
	issuer, err := nkeys.FromRawSeed(nkeys.PrefixByteAccount, secret)
	if err != nil {
		return nil
	}
	return issuer
}

// plainKey is a stranger's word for the log, if it is a key at all.
func plainKey(s string) string {
	if nkeys.IsValidPublicUserKey(s) {
		return s
	}
	return ""
}
