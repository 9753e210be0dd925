package broker

import (
	"crypto/ed25519"
	"crypto/subtle"
	"encoding/base64"
	"sync"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"
	"github.com/rs/zerolog"

	"hod/internal/event"
)

// hostUser is the name of the host's own connection.
const hostUser = "host"

// authenticator says for each connection to the server inside whether it may be, and with which rights.
type authenticator struct {
	site   string
	secret string // of the host's own connection, made anew for each process
	admit  func(ed25519.PublicKey) (Rights, error)
	log    zerolog.Logger
	server *server.Server // set before the server starts

	mu    sync.Mutex
	conns map[event.Device][]uint64 // ids of connections, some of which may have gone

	making   sync.Mutex
	accounts map[event.Device]*server.Account // whole ones
}

// Check is called by the server with a connection that has said who it is.
func (d *authenticator) Check(c server.ClientAuthentication) bool {
	if c.Kind() != server.CLIENT {
		return false
	}
	said := c.GetOpts()
	if said.Nkey == "" {
		if said.Username != hostUser || subtle.ConstantTimeCompare([]byte(said.Password), []byte(d.secret)) != 1 {
			return false
		}
		account, err := d.server.LookupAccount(siteAccount)
		if err != nil {
			return false
		}
		c.RegisterUser(&server.User{Username: hostUser, Account: account})
		return true
	}
	key, ok := verifyNonce(said.Nkey, said.Sig, c.GetNonce())
	if !ok {
		return false
	}
	rights, err := d.admit(key)
	if err != nil {
		d.log.Debug().Err(err).Str("key", said.Nkey).Msg("a device was not let in")
		return false
	}
	may, err := PermissionsOf(d.site, rights)
	if err != nil {
		d.log.Debug().Err(err).Str("key", said.Nkey).Msg("a device was not let in")
		return false
	}
	account, err := d.accountOf(rights.Device)
	if err != nil {
		d.log.Error().Err(err).Str("device", string(rights.Device)).Msg("a device was not let in")
		return false
	}
	if err := d.register(rights.Device, c.GetID()); err != nil {
		d.log.Debug().Err(err).Str("device", string(rights.Device)).Msg("a device was not let in")
		if none, err := d.server.LookupAccount(noneAccount); err == nil {
			c.RegisterUser(&server.User{Username: string(rights.Device), Account: none})
		}
		return false
	}
	// Asked again now that Kick can find it: a device revoked in between is out either way.
	if again, err := d.admit(key); err != nil || again != rights {
		return false
	}
	c.RegisterUser(&server.User{
		Username: string(rights.Device),
		Account:  account,
		Permissions: &server.Permissions{
			Publish:   &server.SubjectPermission{Allow: may.Publish},
			Subscribe: &server.SubjectPermission{Allow: may.Subscribe},
		},
	})
	return true
}

// verifyNonce returns whose key signed the nonce that the server gave to this very connection.
func verifyNonce(name, signature string, nonce []byte) (ed25519.PublicKey, bool) {
	raw, err := nkeys.Decode(nkeys.PrefixByteUser, []byte(name))
	if err != nil || len(raw) != ed25519.PublicKeySize || len(nonce) == 0 {
		return nil, false
	}
	sig, err := base64.RawURLEncoding.DecodeString(signature)
	if err != nil {
		if sig, err = base64.StdEncoding.DecodeString(signature); err != nil {
			return nil, false
		}
	}
	key := ed25519.PublicKey(raw)
	return key, ed25519.Verify(key, nonce, sig)
}

// disconnect ends the connections of a device and says how many there were.
func (d *authenticator) disconnect(device event.Device) int {
	d.mu.Lock()
	ids := d.conns[device]
	delete(d.conns, device)
	d.mu.Unlock()
	ended := 0
	for _, id := range ids {
		if d.server.DisconnectClientByID(id) == nil {
			ended++
		}
	}
	return ended
}
