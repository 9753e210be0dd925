package web

import (
	"context"
	"time"

	"hod/internal/chain"
	"hod/internal/fold"
	"hod/internal/report"
)

// Record is the record that the pages are of, and the clock beside it. Its methods may be called at once.
type Record interface {
	// Now is the record's clock.
	Now() time.Time
	// View calls look with the folded record, which is still until look returns; look does not keep it.
	View(look func(*fold.Site))
	// Place is the site's time zone.
	Place(*fold.Site) *time.Location
	// Heads say how far the log of each device reaches; they are asked for while the record is viewed.
	Heads() []chain.Head
	// Latest is the number of the last change; it only grows.
	Latest() uint64
	// Changed waits until Latest is not after any more, and gives it, or until ctx ends, and gives its error.
	Changed(ctx context.Context, after uint64) (uint64, error)
	// Copy says how old the record is where it is a device's own copy; nil at the server.
	Copy() *report.Copy
}
