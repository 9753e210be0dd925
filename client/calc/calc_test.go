package calc_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/spf13/cobra"
	"pgregory.net/rapid"

	"hod/client/calc"
	"hod/client/cli"
	"hod/client/session"
	"hod/client/terminal"
)

// runCalc runs one calculation with a file at "-".
func runCalc(file string, args ...string) (code int, out, side string) {
	var stdout, stderr bytes.Buffer
	code = cli.Run(context.Background(), &cli.Env{
		Args: append([]string{"calc"}, args...), Stdin: strings.NewReader(file), Stdout: &stdout, Stderr: &stderr,
		Now: time.Now, Getenv: func(string) string { return "" }, Local: time.UTC,
	})
	return code, stdout.String(), stderr.String()
}

var noNumber = regexp.MustCompile(`(?i)(^|[^a-z])(nan|[+-]?inf|infinity)([^a-z]|$)`)

// Whatever values are given: a figure, or an error of usage in words; never NaN or an infinity, never a failure that
// the program did not foresee.
func TestCalcTakesAnyValues(t *testing.T) {
	value := rapid.OneOf(
		rapid.Float64Range(0, 100), rapid.Float64Range(-1e3, 1e4),
		rapid.SampledFrom([]float64{0, -1, 1, 1e-12, 1e12, 1e300, 5e-324, 273.15, -273.15}),
	)
	commands := []string{
		"evaporation --concrete %C --air %F --humidity %% --wind %km/h --wind-height %m",
		"evaporation --concrete %C --air %F --dewpoint %C --wind %mph",
		"vapour --air %C --humidity %%",
		"vapour --air %F --dewpoint %F",
		"set --initial %min --reference %C --ea %kJ/mol --temperature %C",
		"set --initial %h --reference %C --ea %K --temperature %F",
		"set --force %lbf --needle %in2",
		"layer --thickness %mm --density %kg/m3 --water %% --wind %km/h --start %C --air %F --at %min --initial %min --reference %C",
		"intervals --air %C --since %min",
		"evaporation --concrete %C --air %C --wet-bulb %C --altitude %m --wind %m/s --wind-height %m",
		"evaporation --concrete %C --air %C --humidity %% --wind %m/s --water %lb --yield %ft3 --thickness %in --for %h",
		"vapour --air %C --wet-bulb %C --pressure %kPa",
		"cold --air %C --thickness %in --mixed %F --mortar %C --surface %F --fall %K --lowest %C --strength %psi",
		"hot --mortar %F --inside %C --surface %C",
		"breaks --size %mm --load %kN,%lbf --specified %MPa",
		"breaks --shape cylinder --size %in --height %in --load %kN",
		"breaks --specified %psi --sd %psi --number 20",
		"strength --fallback en1992 --strength-28 %MPa --at %d",
		"strength --fallback aci209 --cure steam --strength-28 %psi --at %",
		"strength --parameter ultimate=%MPa --parameter rate=% --parameter start=% --at %d",
		"strength --form logarithmic --parameter a=%MPa --parameter b=%psi --at %",
		"strength --form exponential --parameter ultimate=%MPa --parameter tau=% --parameter alpha=% --at %",
		"yield --gross %kg --tare %lb --measure %L --batch-mass %kg --design-yield %L --air-free %kg/m3",
		"yield --gross %kg --tare %kg --measure %L --batch-mass %kg --air-free %L",
		"moisture --ssd %kg --absorption %% --moisture %%",
		"foam --base %kg/m3 --foam %kg/m3 --target %kg/m3",
		"temperature --part a=%kg@%C,solid --part b=%kg@%C,water --part c=%kg@%C,ice --target %C",
		"shell vault --span %m --rise %m --length %m --thickness %mm",
		"shell barrel --span %m --rise %m --length %m --thickness %mm",
		"shell catenary --span %m --rise %m --length %m --thickness %mm",
		"shell paraboloid --radius %m --rise %m --thickness %mm",
		"shell cap --radius %m --rise %m --thickness %mm",
		"shell hypar --length %m --width %m --rise %m --thickness %mm",
		"shell frustum --radius %m --top-radius %m --rise %m --thickness %mm",
		"shell half-spheroid --radius %m --rise %ft --thickness %mm --density %kg/m3",
		"shell torus --radius %m --tube %m --thickness %mm --batch %L --waste %%",
		"shell flat --area %m2 --thickness %mm --batch %L --waste %% --density %lb/ft3",
		"batches --volume %L --mean %L --sd %L",
		"batches --volume %L --mean %L --sd %L --good-share %%",
		"batches --volume %L --design-yield %L --confidence %%",
		"batches --good 7 --good-share %% --good-of 5/6 --worth %",
		"batches --good 7 --good-share %% --volume %L",
		"proportion --volume %L --water %kg --w-cm % --binder cement=all,gravity=% --sand sand,gravity=%,absorption=%% --air %%",
		"proportion --weight %kg --cementitious %kg --w-cm % --binder cement=%%,gravity=3.15 --binder ash=%%,kind=pozzolan,gravity=2.35 --sand sand,gravity=2.6",
		"proportion --volume %L --cementitious %kg --water %L --binder cement=all,gravity=3.15 --other fibre=%kg,gravity=% --sand sand,gravity=2.6 --moisture %%",
		"moisture --dry %kg --absorption %% --moisture %%",
		"moisture --ssd %kg --absorption %% --surface %%",
		"moisture --weighed %kg --absorption %% --sample-wet %g --sample-dry %g",
		"moisture --bucket %L --dry-loose %kg/m3 --bulking %% --absorption %% --moisture %%",
		"moisture --sample-wet %g --sample-dry %g",
		"fibre --volume-share %% --yield %L --gravity % --bulk %kg/m3 --batch-mass %kg",
		"fibre --loose %L --bulk %kg/m3 --yield %L --gravity % --batch-mass %kg",
		"fibre --mass %kg --yield %L --gravity % --bulk %kg/m3",
		"dose --dose %mL/100kg --cementitious %kg --gravity % --solids %%",
		"dose --liquid %mL --cementitious %kg --gravity %",
		"spray --caught %L --in %s --for %s --cementitious %kg",
		"spray --rate %L/s --for %s --cementitious %lb",
		"foam --agent %mL --agent-gravity % --agent-water %L --base %kg/m3 --foam %kg/m3 --target %kg/m3",
		"yield --gross %kg --tare %kg --measure %L --batch-mass %kg --air-free %kg/m3 --design-air %% --cement %kg",
		"temperature --part a=%kg@%C,solid --part b=%kg@%C,water --outside %C --on-way %h",
	}
	rapid.Check(t, func(t *rapid.T) {
		var args []string
		for word := range strings.FieldsSeq(rapid.SampledFrom(commands).Draw(t, "command")) {
			word = strings.ReplaceAll(word, "%%", "%\x00")
			for strings.Contains(word, "%") {
				word = strings.Replace(word, "%", fmt.Sprint(value.Draw(t, "value")), 1)
			}
			args = append(args, strings.ReplaceAll(word, "\x00", "%"))
		}
		if rapid.Bool().Draw(t, "json") {
			args = append(args, "--json")
		}
		code, out, side := runCalc("", args...)
		if code != 0 && code != 2 {
			t.Fatalf("%q ended with code %d: %s", args, code, side)
		}
		if noNumber.MatchString(out) || code == 0 && out == "" || code == 2 && (out != "" || side == "") {
			t.Fatalf("%q ended with code %d and printed %s%s", args, code, out, side)
		}
	})
}

// The same for the files: rows of any numbers.
func TestCalcTakesAnyReadings(t *testing.T) {
	value := rapid.OneOf(rapid.Float64Range(0, 50), rapid.Float64Range(-100, 1000),
		rapid.SampledFrom([]float64{0, 1e-300, 1e300, -1e300, 7, 7}))
	commands := []struct{ head, command string }{
		{"hours,temp_c", "maturity --readings -"},
		{"hours,temp_f", "maturity --sampled --readings -"},
		{"days,mpa", "strength --at 28d --breaks -"},
		{"days,psi", "strength --form logarithmic --at 7 --breaks -"},
		{"days,mpa", "strength --form exponential --at 0.001 --breaks -"},
		{"minutes,psi", "set --penetration -"},
		{"minutes,psi", "set --penetration - --at 5h"},
		{"minutes,mm", "set --vicat -"},
		{"hours,temp_c", "energy --sets - --reference 20C"},
		{"per_day,temp_f", "energy --rates -"},
		{
			"hours,temp_c",
			"layer --thickness 12mm --density 2100kg/m3 --start 30C --at 2h --initial 4h --reference 23C --air-readings -",
		},
		{"hours,temp_c", "maturity --sampled --gap 3h --bridge straight --from 2h --until 40h --readings -"},
		{"hours,temp_f", "maturity --gap 3h --bridge held --datum 19.5C --readings -"},
		{"mpa,x", "breaks --specified 30MPa --tests -"},
		{"temp_c,x", "cold --hourly -"},
		{"days,mpa", "strength --reaches 20MPa --breaks -"},
		{"minutes,temp_c", "set --initial 4h --reference 23C --history -"},
		{"litres,x", "batches --volume 3m3 --yields - --confidence 99%"},
		{"kg_m3,hours", "chart - --column kg_m3"},
		{"lb_ft3,hours", "chart - --column lb_ft3 --against hours --at 7 --confidence 90%"},
	}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(commands).Draw(t, "command")
		var file strings.Builder
		fmt.Fprintln(&file, c.head)
		for range rapid.IntRange(0, 12).Draw(t, "rows") {
			fmt.Fprintf(&file, "%v,%v\n", value.Draw(t, "a"), value.Draw(t, "b"))
		}
		code, out, side := runCalc(file.String(), strings.Fields(c.command)...)
		if code != 0 && code != 2 || noNumber.MatchString(out) || code == 2 && out != "" {
			t.Fatalf("%s\n%s ended with code %d and printed %s%s", file.String(), c.command, code, out, side)
		}
	})
}

// Any bytes as a file of readings end in a figure or in an error that can be read, whichever calculation takes them in.
// The commands are made once; what is fuzzed is the file.
func FuzzCalcReadings(f *testing.F) {
	env := &terminal.Streams{Stderr: io.Discard, Getenv: func(string) string { return "" }}
	root := calc.New(env)
	var calculations []*cobra.Command
	for i, c := range []struct{ head, rows, words string }{
		{"hours,temp_c", "0,10\n6,14\n", "maturity --sampled --readings -"},
		{
			"hours,temp_f", "0,50\n6,60\n40,70\n",
			"maturity --gap 3h --bridge straight --from 2h --until 40h --readings -",
		},
		{"minutes,psi", "200,50\n240,200\n300,900\n", "set --penetration -"},
		{"minutes,mm", "60,40\n120,30\n180,10\n", "set --vicat -"},
		{"minutes,temp_c", "60,20\n120,30\n", "set --initial 4h --reference 23C --history -"},
		{"hours,temp_c", "6,10\n4,20\n3,30\n", "energy --sets - --reference 20C"},
		{"per_day,temp_f", "0.2,50\n0.5,80\n", "energy --rates -"},
		{
			"hours,temp_c", "0,20\n3,25\n",
			"layer --thickness 12mm --density 2100kg/m3 --start 30C --at 2h --initial 4h --reference 23C --air-readings -",
		},
		{"mpa,x", "31,1\n33,2\n29,3\n", "breaks --specified 30MPa --tests -"},
		{"temp_c,x", "4,1\n-2,2\n", "cold --hourly -"},
		{"days,mpa", "1,8\n3,18\n7,26\n28,34\n", "strength --reaches 20MPa --breaks -"},
		{"litres,x", "78,1\n80,2\n77,3\n", "batches --volume 3m3 --yields - --confidence 99%"},
		{
			"lb_ft3,hours", "130,1\n131,2\n129,3\n130,4\n",
			"chart - --column lb_ft3 --against hours --at 7 --confidence 90%",
		},
	} {
		command, words, err := root.Find(strings.Fields(c.words))
		if err != nil {
			f.Fatal(err)
		}
		if err := command.ParseFlags(words); err != nil {
			f.Fatal(err)
		}
		command.SetContext(context.Background())
		calculations = append(calculations, command)
		f.Add(uint8(2*i), []byte(c.head+"\n"+c.rows))
		f.Add(uint8(2*i+1), []byte(c.head+"\n"+c.rows+"1e300,-1e300\n,\n\"6,14\n"))
	}
	f.Add(uint8(2), []byte("\xef\xbb\xbfhours;temp_f\r\n0;50\r6;60\n"))
	f.Add(uint8(0), []byte("hours,temp_c\n0,NaN\n,\n1\n\"6,14\n"))
	f.Fuzz(func(t *testing.T, which uint8, data []byte) {
		var out bytes.Buffer
		env.Stdin, env.Stdout, env.JSON = bytes.NewReader(data), &out, which%2 == 1
		c := calculations[int(which/2)%len(calculations)]
		err := c.RunE(c, c.Flags().Args())
		text := out.String()
		if err != nil {
			if e := session.Classify(context.Background(), err); e.Kind != terminal.Usage || text != "" {
				t.Fatalf("%s ended with %v of kind %d and printed %q", c.Name(), err, e.Kind, text)
			}
			plainRefusal(t, err)
			return
		}
		// The words hold neither: where they occur, a look for the number itself is worth its time.
		if text == "" || (strings.Contains(text, "NaN") || strings.Contains(text, "Inf")) &&
			noNumber.MatchString(text) {
			t.Fatalf("%s: %s", c.Name(), text)
		}
		if env.JSON && !json.Valid(out.Bytes()) {
			t.Fatalf("%s: no JSON: %s", c.Name(), text)
		}
	})
}

// A fit goes over all of its points many times: of more than any job has, it says so instead of working for minutes.
func TestACurveThroughTooManyBreaksIsRefused(t *testing.T) {
	file := "days,mpa\n" + strings.Repeat("7,20\n", 2001)
	code, out, side := runCalc(file, "strength", "--reaches", "20MPa", "--breaks", "-")
	if code != 2 || out != "" || !strings.Contains(side, "2001 breaks; a curve is drawn through 2000 at most") {
		t.Errorf("code %d: %s%s", code, out, side)
	}
}

// plainRefusal fails unless an error is one that can be shown on a terminal as it is.
func plainRefusal(t *testing.T, err error) {
	t.Helper()
	var known *terminal.Error
	if !errors.As(err, &known) {
		t.Fatalf("an error of no kind: %v", err)
	}
	if strings.ContainsFunc(err.Error(), func(r rune) bool {
		return r != '\n' && unicode.IsControl(r) ||
			r == 0x202e
	}) {
		t.Fatalf("a control character reaches the terminal: %q", err)
	}
}
