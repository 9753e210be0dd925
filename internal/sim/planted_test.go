package sim_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var plantedFlag = flag.String("planted", "",
	"planted bugs to try: their names with semicolons between, or all; those tried always if empty")

// planted is a rule of the program and a version of it in which that rule is gone. Each must turn the simulation red.
type planted struct {
	name   string
	always bool // tried in every run of the tests, not only when asked
	edits  []edit
}

// edit puts new text in the place of old, which must be in the file exactly once.
type edit struct{ file, old, new string }

var plants = []planted{
	{"acknowledged before it is committed", true, []edit{{
		"client/journal/append.go", "			written = append(written, e)\n		}\n		return nil",
		"			written = append(written, e)\n		}\n		if written[0].Seq%5 == 0 {\n			if _, err := q.ExecContext(ctx, `rollback`); err != nil {\n				return err\n			}\n			_, err = q.ExecContext(ctx, `begin`)\n		}\n		return err",
	}}},
	{"the archive is not flushed", false, []edit{{
		"server/store/archive.go", "		_, err := a.out.Write(b)\n		if err == nil {",
		"		_, err := a.out.Write(b)\n		if err == nil && a.size < 0 {",
	}}},
	{"heads are told of what the disk refused", false, []edit{{
		"server/host/intake.go", "		h.broken = err\n		return err\n", "",
	}}},
	{"push goes on from what the device believes was sent", true, []edit{{
		"client/sync/sync.go", "	s.server, s.known.Server, s.known.BackedUp = h.Heads, h.Heads, h.BackedUp\n",
		`	for _, was := range s.known.Server {
		if i := slices.IndexFunc(h.Heads, func(x chain.Head) bool { return x.Device == was.Device }); i < 0 {
			h.Heads = append(h.Heads, was)
		} else if h.Heads[i].Seq < was.Seq {
			h.Heads[i] = was
		}
	}
	s.server, s.known.Server, s.known.BackedUp = h.Heads, h.Heads, h.BackedUp
`,
	}}},
	{"heads are not compared when nothing waits", false, []edit{
		{"client/sync/sync.go", "	if err := s.clock(ctx); err != nil {", `	held, err := s.Journal.Heads(ctx)
	if err != nil {
		return err
	}
	waits := slices.ContainsFunc(held, func(h chain.Head) bool {
		return h.Device == s.own && !slices.Contains(s.known.Server, h)
	})
	if err := s.clock(ctx); err != nil {`},
		{
			"client/sync/sync.go", "	if err := s.push(ctx); err != nil {",
			"	if !waits {\n		return s.confirm(ctx)\n	}\n	if err := s.push(ctx); err != nil {",
		},
	}},
	{"only a device's own events are offered", false, []edit{{
		"client/sync/sync.go", "	for _, after := range p.offer {\n",
		"	for _, after := range p.offer {\n		if after.Device != s.own {\n			continue\n		}\n",
	}}},
	{"what a device overlaps is not compared", true, []edit{{
		"internal/chain/verdict.go", "	case here != at:\n		return first",
		"	case here.Seq != at.Seq:\n		return first",
	}}},
	{"a repeat is known by its name alone", false, []edit{{
		"internal/chain/verdict.go", "	n := int(min(end.Seq, s.After.Seq) - s.Before.Seq)\n",
		"	n := int(min(end.Seq, s.After.Seq) - s.Before.Seq)\n	if n == len(s.Events) {\n		return Judgement{Verdict: Duplicate, Held: n}, nil\n	}\n",
	}}},
	{"a position in the stream counts without its hash, and is not scrubbed, at the server", true, []edit{
		{"server/host/loop.go", "		if positionOf(m) != at {", "		if m.Seq != at.Seq {"},
		{"server/host/loop.go", "change: is.Seq == top.Seq && is != top}", "change: is.Seq > 1<<40}"},
		{
			"server/host/loop.go", "p.Top.Seq > in.state.Last || lost > p.Lost",
			"p.Top.Seq > in.state.Last+1<<40 || lost > p.Lost && p.Top.Seq > in.state.Last+1<<40",
		},
		{
			"server/host/loop.go", "	if l.log.atEnd && l.scrub == nil && !now.Before(l.at.scrub) {",
			"	if l.log.atEnd && l.scrub == nil && now.Before(l.log.began) {",
		},
	}},
	{"the server's loop does not look whether its stream lost something", true, []edit{{
		"server/host/loop.go", "	if !l.busy.asking && !now.Before(l.at.look) {",
		"	if !l.busy.asking && now.Before(l.log.began) {",
	}}},
	{"the server's loop does not scrub its stream", false, []edit{{
		"server/host/loop.go", "	if l.log.atEnd && l.scrub == nil && !now.Before(l.at.scrub) {",
		"	if l.log.atEnd && l.scrub == nil && now.Before(l.log.began) {",
	}}},
	{"a position counts without its hash, and heads do not tell what is lacking, on a device", false, []edit{
		{
			"client/sync/decide.go", "event.Hash(sha256.Sum256(msgs[0].Data)) == at.Hash",
			"event.Hash(sha256.Sum256(msgs[0].Data)) != event.Hash{}",
		},
		{
			"client/sync/decide.go", "	due := now.Sub(known.Whole) >= rescanAfter || now.Before(known.Whole)",
			"	due := justRead",
		},
		{"client/sync/decide.go", "		return !justRead && untried(h)", "		return false"},
	}},
	{"a position is kept before what was read, and heads do not tell what is lacking", false, []edit{
		{
			"client/sync/sync.go", "		kept, err := s.Journal.IngestAt(ctx, at,",
			"		if _, err := s.Journal.IngestAt(ctx, at); err != nil {\n			return err\n		}\n		kept, err := s.Journal.IngestAt(ctx, at,",
		},
		{"client/sync/decide.go", "		return !justRead && untried(h)", "		return false"},
	}},
	{"the server does not check signatures", false, []edit{{
		"internal/chain/log.go", "	if trust != nil && trust(s.After) && l.keys", "	if l.keys",
	}}},
	{"a device does not check signatures", false, []edit{{
		"internal/chain/keyring.go", "	return s.Verify(key)\n", "	return nil\n",
	}}},
	{"rights are not looked at in the fold", true, []edit{{
		"internal/history/standing.go", "	return s.right(r.Device, role, r.Body)\n", "	return nil\n",
	}}},
	{"a revocation ends nothing", false, []edit{{
		"internal/history/standing.go", "revoked && r.Seq > last {", "revoked && r.Seq > last+1<<20 {",
	}}},
	{"a revocation ends what was logged after it, by the clock of who wrote it", false, []edit{{
		"internal/history/standing.go", "revoked && r.Seq > last {",
		"revoked && r.LoggedAt.After(s.Members[r.Device].Revoked[0].LoggedAt) {",
	}}},
	{"a plan counts for nothing that its clock puts before what it replaces", false, []edit{{
		"internal/planned/history.go", "before != nil && before != r {",
		"before != nil && before != r && !r.LoggedAt.Before(before.LoggedAt) {",
	}}},
	{"a correction counts for nothing that its clock puts before what it corrects", false, []edit{{
		"internal/history/correction.go", "	if len(fixes) == 0 {\n		return now\n	}\n",
		"	if len(fixes) == 0 || fixes[len(fixes)-1].LoggedAt.Before(node.LoggedAt) {\n		return now\n	}\n",
	}}},
	{"a time counts as the clock had it, however far off that is known to be", false, []edit{{
		"internal/event/event.go", "	return t.Add(*e.Offset)\n", "	return t\n",
	}}},
	{"a fork is overwritten", true, []edit{{
		"client/journal/rewrite.go", "		done.Again, err = j.again(ctx, q, head, done.Superseded)",
		"		done.Again, err = j.again(ctx, q, head, nil)",
	}}},
	{"what was written again already is written once more", false, []edit{{
		"client/journal/rewrite.go", "			continue\n		}\n		stands[", "		}\n		stands[",
	}}},
	{"what a copy wrote is not put by for its author", false, []edit{{
		"client/journal/keep.go",
		"	if s.Before.Device != j.device.Name {\n		return nil\n	}\n	_, err := q.ExecContext(ctx, `insert or ignore into elsewhere",
		"	if s.Before.Device != \"\" {\n		return nil\n	}\n	_, err := q.ExecContext(ctx, `insert or ignore into elsewhere",
	}}},
	{"a reader drops the other history unseen", false, []edit{{
		"client/sync/fork.go", "	} else if err := s.testify(ctx, d, found[d]); err != nil {",
		"	} else if err := ctx.Err(); err != nil {",
	}}},
	{"the stream is not given back what it lost", false, []edit{{
		"server/host/loop.go", "		if err != nil || !h.lacksSegment(segment) {",
		"		if err != nil || h.lacksSegment(segment) || true {",
	}}},
	{"a restored server forgets what it had written", false, []edit{{
		"server/host/intake.go", "	for len(h.orphans) > 0 && h.isWhole() {",
		"	for len(h.orphans) < 0 && h.isWhole() {",
	}}},
	{"a server's time before its program was built corrects the devices' clocks", false, []edit{{
		"client/sync/sync.go", "			if h.Now.Before(auth.FirstBuilt) {",
		"			if h.Now.Before(auth.FirstBuilt.AddDate(-100, 0, 0)) {",
	}}},
}

// enough seeds that each planted bug is seen.
const enough = 100

func TestPlantedBugsAreFound(t *testing.T) {
	if testing.Short() && *plantedFlag == "" {
		t.Skip("each planted bug is a build of its own")
	}
	tool, err := exec.LookPath("go")
	if err != nil {
		t.Skip("there is no go in PATH to build the planted bugs with")
	}
	top, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		t.Fatal(err)
	}
	wanted := strings.Split(*plantedFlag, ";")
	for _, p := range plants {
		t.Run(p.name, func(t *testing.T) {
			overlay := p.overlay(t, top)
			if *plantedFlag == "" && !p.always || *plantedFlag != "" && *plantedFlag != "all" &&
				!slices.Contains(wanted, p.name) {
				t.Skip("its text is in its place; tried when asked for: -planted all")
			}
			seeds := enough
			if *seedsFlag > 0 {
				seeds = *seedsFlag
			}
			//nolint:gosec // what is run is this test
			c := exec.CommandContext(t.Context(), tool, "test", "-overlay", overlay, "-vet=off", "-count=1",
				"-timeout=0", "-run=^TestSimulation$", "-v",
				"hod/internal/sim", "-seeds", fmt.Sprint(seeds), "-first", fmt.Sprint(*firstFlag), "-failures", "1")
			c.Dir = top
			out, err := c.CombinedOutput()
			var failed *exec.ExitError
			switch {
			case bytes.Contains(out, []byte("[build failed]")), bytes.Contains(out, []byte("[setup failed]")):
				t.Fatalf("it does not build:\n%s", out)
			case err == nil:
				t.Fatalf("%d seeds stay green without this rule", seeds)
			case !errors.As(err, &failed):
				t.Fatalf("%v:\n%s", err, out)
			}
			// A seed that fails with the rule in its place says nothing of the rule.
			if m := redAt.FindSubmatch(out); m != nil && len(m[1]) > 0 {
				if seed, err := strconv.ParseUint(string(m[1]), 10, 64); err != nil {
					t.Fatal(err)
				} else if _, _, _, err := run(seed, scratch(t)); err != nil {
					t.Fatalf("seed %d fails with the rule in its place, too: %v", seed, err)
				}
			}
			t.Logf("red: %s", sentence(out))
		})
	}
}

// overlay checks that the old text is there, once, and gives the file that says what stands in its place.
func (p planted) overlay(t *testing.T, top string) string {
	t.Helper()
	dir := t.TempDir()
	texts := map[string]string{}
	for _, e := range p.edits {
		path := filepath.Join(top, filepath.FromSlash(e.file))
		text, ok := texts[path]
		if !ok {
			raw, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			text = string(raw)
		}
		if n := strings.Count(text, e.old); n != 1 {
			t.Fatalf("%s holds %d times, not once:\n%s", e.file, n, e.old)
		}
		texts[path] = strings.Replace(text, e.old, e.new, 1)
	}
	replace := map[string]string{}
	for path, text := range texts {
		replace[path] = filepath.Join(dir, fmt.Sprintf("%d.go", len(replace)))
		if err := os.WriteFile(replace[path], []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	raw, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		t.Fatal(err)
	}
	overlay := filepath.Join(dir, "overlay.json")
	if err := os.WriteFile(overlay, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	return overlay
}

var redAt = regexp.MustCompile(`seed (\d+): [^\n]{0,160}|panic: [^\n]{0,160}`)

func sentence(out []byte) string {
	if m := redAt.Find(out); m != nil {
		return string(m)
	}
	return string(out[max(0, len(out)-300):])
}
