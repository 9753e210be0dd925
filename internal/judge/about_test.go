package judge_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
)

// about are the findings that are about an event, as a command that wrote it tells them.
func about(all []fold.Finding, name event.Name) []fold.Finding {
	return slices.DeleteFunc(slices.Clone(all), func(f fold.Finding) bool {
		return !slices.Contains(strings.Fields(f.Key), name.String()) && !f.Concerns(name)
	})
}

func TestWhatIsFoundAboutAnEventIsFoundWithoutJudgingAllZones(t *testing.T) {
	events := foldtest.Probed(t, rand.New(rand.NewPCG(2, 2)))
	whole := foldtest.Folded(events...)
	some := 0
	for i, e := range events {
		if testing.Short() && i%5 > 0 {
			continue
		}
		want := about(whole.Findings(), e.Name)
		got := about(foldtest.Folded(events...).FindingsAbout(e.Name), e.Name)
		if len(want) > 0 {
			some++
		}
		if d := cmp.Diff(want, got, cmpopts.EquateEmpty(), cmpopts.IgnoreFields(fold.Finding{}, "Joint"),
			cmpopts.IgnoreUnexported(fold.Finding{})); d != "" {
			t.Errorf("what is found about %s, a %s, differs:\n%s", e.Name, event.KindOf(e.Body), d)
		}
	}
	if some < 10 {
		t.Errorf("something is found about %d events only", some)
	}
}
