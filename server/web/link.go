package web

import (
	"crypto/ed25519"
	"fmt"

	"hod/internal/auth"
	"hod/internal/event"
)

// closed is why a link opens nothing, in a sentence for who holds it.
type closed string

func (c closed) Error() string { return string(c) }

const notALink = closed("This is not a link to the pages of this site. Ask the foreman for one: hod link.")

// open says whether a token opens the pages now, and gives what asks that again: whether its maker may still, and its
// end. Its signature is verified here alone.
func (w *Web) open(token string) (link auth.Link, still func() error, err error) {
	if link, err = auth.ReadLink(token); err != nil {
		return link, nil, notALink
	}
	maker, known := w.config.Host.Member(event.Device(link.Device))
	if !known || !w.holds(link, w.config.Host.Site(), maker.Key) {
		return link, nil, notALink
	}
	still = func() error { return w.still(link, maker.Key) }
	return link, still, still()
}

// still says whether a link whose signature holds by that key opens the pages now.
func (w *Web) still(link auth.Link, key ed25519.PublicKey) error {
	maker, known := w.config.Host.Member(event.Device(link.Device))
	now := w.config.Host.Now()
	switch {
	case !known || !key.Equal(maker.Key):
		return notALink
	case maker.Revoked:
		return closed("The device that made this link was revoked. Ask the foreman for a new one.")
	case maker.Role != event.Foreman:
		return closed("Only a foreman's device makes links to the pages.")
	case !now.Before(link.Until):
		return closed(fmt.Sprintf("This link ran out on %s UTC. Ask the foreman for a new one: hod link.",
			link.Until.Format("2 Jan 2006 15:04")))
	case link.Until.Sub(now) > auth.LinkMost:
		return closed(fmt.Sprintf(
			"A link may hold %d days at most, and this one says more. Ask the foreman for another.",
			int(auth.LinkMost.Hours()/24)))
	}
	return nil
}
