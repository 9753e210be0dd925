package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"hod/client/cli"
)

// demoOut is what the demo has said so far.
type demoOut struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (t *demoOut) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.text.Write(p)
}

func (t *demoOut) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.text.String()
}

// The invented days are in another year than the clock of who tries the demo, and all that it says to type works there.
func TestTheDemoLetsAllItsPrintedInstructionsWork(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	var out demoOut
	ended := make(chan error, 1)
	go func() { ended <- runDemo(ctx, &out, filepath.Join(t.TempDir(), "demo"), true) }()
	defer func() {
		cancel()
		if err := <-ended; err != nil && !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	}()
	until(t, "the demo runs on", func() bool { return strings.Contains(out.String(), "hod batch body") })
	_, instructions, ok := strings.Cut(out.String(), "go build -o hod ./client/hod:\n")
	if !ok {
		t.Fatalf("the demo does not say how to go on:\n%s", out.String())
	}
	picturedInTheReadme(t, out.String())
	vars, tried := map[string]string{}, 0
	for line := range strings.Lines(instructions) {
		line, _, _ = strings.Cut(line, "#")
		for command := range strings.SplitSeq(line, ";") {
			if set, ok := strings.CutPrefix(strings.TrimSpace(command), "export HOD_DIR="); ok {
				vars["HOD_DIR"] = strings.TrimSpace(set)
				continue
			}
			tried++
			printed(t, strings.TrimSpace(command), vars)
		}
	}
	if tried < 9 {
		t.Errorf("the demo gave %d commands to type:\n%s", tried, instructions)
	}
}

// picturedInTheReadme sees that the board in README.md has the parts of the demo's: its figures may be older.
func picturedInTheReadme(t *testing.T, said string) {
	t.Helper()
	b, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, picture, ok := strings.Cut(string(b), "    $ hod board\n")
	_, board, shown := strings.Cut(said, "$ hod board")
	if !ok || !shown {
		t.Fatal("README.md has no picture of the board, or the demo shows none")
	}
	picture, _, _ = strings.Cut(picture, "\n\n")
	board, _, _ = strings.Cut(board, "\n\n")
	parts := 0
	for line := range strings.Lines(picture) {
		part, _, _ := strings.Cut(strings.TrimPrefix(line, "    "), " ")
		if len(part) < 4 || part != strings.ToUpper(part) {
			continue
		}
		if parts++; !strings.Contains(board, "\n"+part+" ") {
			t.Errorf("README.md shows a board with %s; the demo's has none", part)
		}
	}
	if parts < 5 {
		t.Errorf("the board in README.md has %d parts", parts)
	}
}

// printed runs one printed command, perhaps with a folder of its own before it, and opens the address that it prints.
func printed(t *testing.T, command string, vars map[string]string) {
	t.Helper()
	dir := vars["HOD_DIR"]
	if own, ok := strings.CutPrefix(command, "HOD_DIR="); ok {
		dir, command, _ = strings.Cut(own, " ")
	}
	words := strings.Fields(command)
	if len(words) < 2 || words[0] != "hod" {
		t.Fatalf("%q is no command of hod", command)
	}
	var out, side bytes.Buffer
	code := cli.Run(t.Context(), &cli.Env{
		Args: words[1:], Stdin: strings.NewReader(""), Stdout: &out, Stderr: &side, Now: time.Now, Local: time.UTC,
		Getenv: func(key string) string { return map[string]string{"HOD_DIR": dir}[key] },
	})
	if code != 0 || out.Len() == 0 {
		t.Errorf("%s: code %d\n%s%s", command, code, out.String(), side.String())
		return
	}
	address, _, _ := strings.Cut(out.String(), "\n")
	if !strings.HasPrefix(address, "https://") {
		return
	}
	trusting := &tls.Config{InsecureSkipVerify: true} //nolint:gosec // as a browser that was told to trust it
	browser := &http.Client{Transport: &http.Transport{TLSClientConfig: trusting}}
	defer browser.CloseIdleConnections()
	reply, err := browser.Get(address)
	if err != nil {
		t.Errorf("open the link: %v", err)
		return
	}
	defer reply.Body.Close()
	if reply.StatusCode != http.StatusOK {
		t.Errorf("the link of the demo opens with %s", reply.Status)
	}
}
