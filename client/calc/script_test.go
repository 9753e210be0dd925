package calc_test

import (
	"bytes"
	"context"
	"flag"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"hod/client/cli"
)

var update = flag.Bool("update", false, "write what the scripts compare with anew")

// In a script, `hod …` runs the real tree of commands in this process, on a device that has joined nothing; `code 3`
// checks the exit code of the last one. STDIN names the file that is read from standard input.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", UpdateScripts: *update,
		Setup: func(e *testscript.Env) error {
			e.Values["code"] = new(int)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"hod": runHod, "code": checkCode},
	})
}

func runHod(ts *testscript.TestScript, neg bool, args []string) {
	var out, side bytes.Buffer
	stdin := ""
	if name := ts.Getenv("STDIN"); name != "" {
		stdin = ts.ReadFile(name)
	}
	code := cli.Run(context.Background(), &cli.Env{
		Args: args, Stdin: strings.NewReader(stdin), Stdout: &out, Stderr: &side, Now: time.Now, Local: time.UTC,
		Getenv: ts.Getenv,
	})
	*ts.Value("code").(*int) = code
	_, _ = ts.Stdout().Write(out.Bytes())
	_, _ = ts.Stderr().Write(side.Bytes())
	switch {
	case neg && code == 0:
		ts.Fatalf("hod %s succeeded; it was to fail\n%s", strings.Join(args, " "), out.String())
	case !neg && code != 0:
		ts.Fatalf("hod %s ended with code %d\n%s%s", strings.Join(args, " "), code, out.String(), side.String())
	}
}

func checkCode(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	if got := *ts.Value("code").(*int); got != want {
		ts.Fatalf("the exit code is %d, not %d", got, want)
	}
}
