package report

import (
	"hod/internal/report/plainly"
)

// Clean makes a text from an event fit to be shown on one line: see package plainly.
func Clean(s string) string { return plainly.Clean(s) }
