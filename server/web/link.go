package web

import (
	"crypto/ed25519"
	"fmt"
	"time"

	"hod/internal/auth"
	"hod/internal/event"
)

// closed is why a link opens nothing, in a sentence for who holds it.
type closed string

func (c closed) Error() string { return string(c) }

const notALink = closed("This is not a link to the pages of this site. Ask the foreman for one: hod link.")

// opener is a link that opens the pages: who made it, and when it runs out.
type opener struct {
	device event.Device
	until  time.Time
}

// open says whether a token opens the pages now, and gives what asks that again: whether its maker may still, and its
// end. Its signature is verified here alone.
func (w *Web) open(token string) (opener, func() error, error) {
	link, err := auth.ReadLink(token)
	if err != nil {
		return opener{}, nil, notALink
	}
	return w.opens(opener{event.Device(link.Device), link.Until}, func(key ed25519.PublicKey) bool {
		return w.holds(link, w.config.Host.Site(), key)
	})
}

// openShort is open for the code of a short link.
func (w *Web) openShort(code string) (opener, func() error, error) {
	link, err := auth.ReadShortLink(code)
	if err != nil {
		return opener{}, nil, notALink
	}
	h := w.config.Host
	return w.opens(opener{event.Device(link.Device), link.Until}, func(key ed25519.PublicKey) bool {
		return link.Holds(h.ShortLinkKey(), h.Site(), key)
	})
}

func (w *Web) opens(o opener, holds func(ed25519.PublicKey) bool) (opener, func() error, error) {
	maker, known := w.config.Host.Member(o.device)
	if !known || !holds(maker.Key) {
		return o, nil, notALink
	}
	still := func() error { return w.still(o, maker.Key) }
	return o, still, still()
}

// still says whether a link whose signature holds by that key opens the pages now.
func (w *Web) still(link opener, key ed25519.PublicKey) error {
	maker, known := w.config.Host.Member(link.device)
	now := w.config.Host.Now()
	switch {
	case !known || !key.Equal(maker.Key):
		return notALink
	case maker.Revoked:
		return closed("The device that made this link was revoked. Ask the foreman for a new one.")
	case maker.Role != event.Foreman:
		return closed("Only a foreman's device makes links to the pages.")
	case !now.Before(link.until):
		return closed(fmt.Sprintf("This link ran out on %s UTC. Ask the foreman for a new one: hod link.",
			link.until.Format("2 Jan 2006 15:04")))
	case link.until.Sub(now) > auth.LinkMost:
		return closed(fmt.Sprintf(
			"A link may hold %d days at most, and this one says more. Ask the foreman for another.",
			int(auth.LinkMost.Hours()/24)))
	}
	return nil
}
