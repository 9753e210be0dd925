package foldtest

import (
	"testing"

	"hod/internal/fold"
)

// FlagOf is the one finding of a code; it fails where there are none or several.
func FlagOf(t *testing.T, s *fold.Site, code string) fold.Finding {
	t.Helper()
	var got []fold.Finding
	for _, f := range s.Findings() {
		if f.Code == code {
			got = append(got, f)
		}
	}
	if len(got) != 1 {
		t.Fatalf("%d findings %s, not 1: %+v", len(got), code, got)
	}
	return got[0]
}
