package notices

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

func TestEachModuleIsNamedInTheVersionThatIsLinked(t *testing.T) {
	b, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(Text, "\n---")
	named := regexp.MustCompile(`(?m)^(\S+) (v\S+): \S`).FindAllStringSubmatch(head, -1)
	if len(named) < 30 {
		t.Fatalf("only %d modules are named", len(named))
	}
	for _, m := range named {
		if !strings.Contains(string(b), "\t"+m[1]+" "+m[2]) {
			t.Errorf("go.mod requires another version of %s than %s; make the notices: go run ./internal/tools/notices",
				m[1], m[2])
		}
		if !strings.Contains(Text[len(head):], "\n"+m[1]+" "+m[2]+", ") {
			t.Errorf("no licence of %s follows", m[1])
		}
	}
}
