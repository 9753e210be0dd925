package web

import (
	"fmt"

	"hod/internal/auth"
	"hod/internal/event"
)

// closed is why a link opens nothing, in a sentence for who holds it.
type closed string

func (c closed) Error() string { return string(c) }

const notALink = closed("This is not a link to the pages of this site. Ask the foreman for one: hod link.")

// open says whether a token opens the pages now.
func (w *Web) open(token string) (auth.Link, error) {
	link, err := auth.ReadLink(token)
	if err != nil {
		return link, notALink
	}
	h := w.config.Host
	maker, known := h.Member(event.Device(link.Device))
	now := h.Now()
	switch {
	case !known || !link.Holds(h.Site(), maker.Key):
		return link, notALink
	case maker.Revoked:
		return link, closed("The device that made this link was revoked. Ask the foreman for a new one.")
	case maker.Role != event.Foreman:
		return link, closed("Only a foreman's device makes links to the pages.")
	case !now.Before(link.Until):
		return link, closed(fmt.Sprintf("This link ran out on %s UTC. Ask the foreman for a new one: hod link.", link.Until.Format("2 Jan 2006 15:04")))
	case link.Until.Sub(now) > auth.LinkMost:
		return link, closed(fmt.Sprintf("A link may hold %d days at most, and this one says more. Ask the foreman for another.", int(auth.LinkMost.Hours()/24)))
	}
	return link, nil
}
