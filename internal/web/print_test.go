package web

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"hod/internal/chain"
)

func TestAFileInPrintSaysItsSiteAndDigestOnEachSheetAndHasLinesToSign(t *testing.T) {
	text := string(File("Tarn", "day 2031-05-13", "ab12", "<p>x</p>"))
	for _, want := range []string{
		`:root{--foot:"Tarn\00003b  day 2031\00002d 05\00002d 13\00003b  digest ab12"}`, "@bottom-left{content:var(--foot", "counter(page)", "counter(pages)",
		`<div class="sign"`, "<span>inspector</span><span>date</span>", "thead{display:table-header-group}", "tr,li,svg{break-inside:avoid}",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the file does not hold %q", want)
		}
	}
}

func TestNoNameEndsTheStyleOfAFile(t *testing.T) {
	text := string(File(`</style><script>x</script>"}*{}`, "day", "", ""))
	if strings.Contains(text, "<script>x") || strings.Contains(text, `"}*{}`) {
		t.Errorf("a name became markup or style:\n%s", text)
	}
	if got := quoted("a\"\\\n<é"); got != `"a\000022 \00005c  \00003c \0000e9 "` {
		t.Errorf("quoted as %s", got)
	}
}

// What a page in print says of itself is a style of its own, which the answer's policy has to name.
func TestAPageInPrintSaysItsSiteDayAndDigestOnEachSheetAndABrowserTakesThem(t *testing.T) {
	r := vault(t)
	pages := New(r, zerolog.Nop())
	digest := chain.Digest(r.site.ID, r.Heads()).String()
	for _, path := range []string{"now", "zone/A3", "day"} {
		to := httptest.NewRecorder()
		pages.Answer(to, httptest.NewRequest(http.MethodGet, "/", nil), Visit{Path: path})
		foot := quoted("Aldeira chapel vault; " + strings.ReplaceAll(path, "/", " ") + "; 2031-05-13 16:54; digest " +
			digest)
		if want := "<style>:root{--foot:" + foot + "}</style>"; !strings.Contains(to.Body.String(), want) {
			t.Errorf("%s does not hold %s", path, want)
		}
		if !strings.Contains(to.Header().Get("Content-Security-Policy"), sourceOf(":root{--foot:"+foot+"}")) {
			t.Errorf("a browser would not take the foot of %s", path)
		}
	}
}

func TestALongNameLeavesTheFootItsDigestAndTheNumberOfTheSheet(t *testing.T) {
	if got := footOf(strings.Repeat("é", 200), "day", "ab12"); got != strings.Repeat("é", 47)+"…; day; digest ab12" {
		t.Errorf("the foot is %s", got)
	}
}

func TestAFootHasNoDigestOfARecordThatIsNotTheOneShown(t *testing.T) {
	r := vault(t)
	heads := r.Heads()
	if digestOf(r.site, heads) == "" {
		t.Error("there is no digest of the record that is shown")
	}
	heads[0].Seq--
	if got := digestOf(r.site, heads); got != "" {
		t.Errorf("heads of fewer events give %s", got)
	}
}
