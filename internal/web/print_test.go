package web

import (
	"strings"
	"testing"
)

func TestAFileInPrintSaysItsSiteAndDigestOnEachSheetAndHasLinesToSign(t *testing.T) {
	text := string(File("Tarn", "day 2031-05-13", "ab12", "<p>x</p>"))
	for _, want := range []string{
		`@page{@bottom-left{content:"Tarn\00003b  day 2031\00002d 05\00002d 13\00003b  digest ab12"`, "counter(page)", "counter(pages)",
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
