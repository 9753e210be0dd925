package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/testscript"

	"hod/client/journal"
	"hod/internal/event"
)

// trialDevices are those of testdata/script/trial.txt: a foreman's, one of each crew, and a second of crew east.
var trialDevices = []event.DeviceEnrolled{
	{Device: "f1", Role: event.Foreman, Label: "foreman's tablet"},
	{Device: "w1", Role: event.CrewRole, Crew: "west"},
	{Device: "c1", Role: event.CrewRole, Crew: "crown"},
	{Device: "e1", Role: event.CrewRole, Crew: "east"},
	{Device: "e2", Role: event.CrewRole, Crew: "east"},
}

// trial makes the folders of the trial's devices.
func trial(ts *testscript.TestScript, _ bool, _ []string) {
	root, err := journal.InMemory(deviceOf("host"))
	ts.Check(err)
	defer root.Close()
	at := time.Date(2026, 7, 1, 6, 0, 0, 0, time.UTC)
	for _, d := range trialDevices {
		d.PublicKey = public(keyOf(string(d.Device)))
		_, err := root.Append(context.Background(), at, event.Event{Body: d})
		ts.Check(err)
	}
	for _, d := range trialDevices {
		to := deviceOf(string(d.Device))
		to.Crew, to.Role = d.Crew, d.Role
		j, err := journal.Create(ts.MkAbs(string(d.Device)), to)
		ts.Check(err)
		err = bring(root, j)
		j.Close()
		ts.Check(err)
	}
}

// meet A B… has each bring what it holds to all the others, as contacts with the server would whose clock is theirs.
func meet(ts *testscript.TestScript, neg bool, args []string) {
	for _, name := range args[1:] {
		carry(ts, neg, []string{name, args[0]})
	}
	carry(ts, neg, args)
	for _, name := range args {
		contact(ts, neg, []string{name, "0s"})
	}
}

// contact DEVICE OFFSET is what a contact with the server leaves: the server's clock less the device's, which shows
// NOW.
func contact(ts *testscript.TestScript, _ bool, args []string) {
	now, err := time.Parse(time.RFC3339, ts.Getenv("NOW"))
	ts.Check(err)
	offset, err := time.ParseDuration(args[1])
	ts.Check(err)
	j, err := journal.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer j.Close()
	c, err := j.Contact(context.Background())
	ts.Check(err)
	c.At, c.Offset, c.Fetched = now, offset, now.Add(offset)
	ts.Check(j.SetContact(context.Background(), c))
}

// readSky is sky DAY HOUR AIR HUMIDITY WIND [RAIN] is a reading of the weather that crew west writes down.
func readSky(ts *testscript.TestScript, _ bool, args []string) {
	day, err := strconv.Atoi(args[0])
	ts.Check(err)
	hour, err := time.Parse("15:04", args[1])
	ts.Check(err)
	at := time.Date(2026, 7, 17+day, hour.Hour(), hour.Minute(), 0, 0, time.UTC)
	ts.Setenv("DEVICE", "w1")
	ts.Setenv("NOW", at.Format(time.RFC3339))
	words := []string{
		"--no-input", "weather", "--air", args[2], "--humidity", args[3], "--wind", args[4],
		"--wind-height", "0.5m",
	}
	if len(args) > 5 {
		words = append(words, "--rain", args[5])
	}
	runHod(ts, false, words)
}

// A day of the trial is sixteen batches a crew: one every 25 min from 07:30, after the tenth half an hour of noon.
// Water meets cement 2 min after the start, the batch is ready after 8, placed from 10 to 22; four fill a coat, which
// is covered 24 min after its last one began.

// workAt is when a batch of a day is begun.
func workAt(day time.Time, batch int) time.Time {
	at := day.Add(7*time.Hour + 30*time.Minute + time.Duration(batch-1)*25*time.Minute)
	if batch > 10 {
		at = at.Add(30 * time.Minute)
	}
	return at
}

// work DAY FROM TO DEVICE… writes the batches FROM to TO of a day of the trial on the devices, as their crews would.
// Day 1 is 2026-07-18. A crew's twelve coats are the first of its six zones, then the second; a batch that begins a
// coat runs along the zone before, the one that ends it along the next.
func work(ts *testscript.TestScript, _ bool, args []string) {
	day, err := strconv.Atoi(args[0])
	ts.Check(err)
	from, err := strconv.Atoi(args[1])
	ts.Check(err)
	to, err := strconv.Atoi(args[2])
	ts.Check(err)
	midnight := time.Date(2026, 7, 17+day, 0, 0, 0, 0, time.UTC)
	typed := ts.Getenv("CLOCK") == "" // else the device's clock makes the times, and is off by that
	for n := from; n <= to; n++ {
		for _, device := range args[3:] {
			workOne(ts, device, midnight, day, n, typed)
		}
	}
}

func workOne(ts *testscript.TestScript, device string, midnight time.Time, day, n int, typed bool) {
	coat := (day-1)*4 + (n-1)/4
	row := map[string]string{"w1": "W", "c1": "C", "e1": "E", "e2": "E"}[device]
	zone := func(i int) string { return fmt.Sprintf("%s%d", row, i+1) }
	at := workAt(midnight, n)
	clock := func(after int) string { return at.Add(time.Duration(after) * time.Minute).Format("15:04") }
	off, _ := time.ParseDuration(ts.Getenv("CLOCK"))
	as := func(after int, args ...string) {
		ts.Setenv("DEVICE", device)
		ts.Setenv("NOW", at.Add(time.Duration(after)*time.Minute+off).Format(time.RFC3339))
		runHod(ts, false, args)
	}
	batch := []string{"--no-input", "batch", "face", "--number", strconv.Itoa(n), "--moisture", "4%", "--temp", "23C"}
	place := []string{
		"--no-input", "place", strconv.Itoa(n), zone(coat % 6), "--face", "outer", "--coat",
		strconv.Itoa(1 + coat/6),
	}
	if typed {
		batch = append(batch, "--from", clock(0), "--water-at", clock(2), "--to", clock(8))
		place = append(place, "--from", clock(10), "--to", clock(22))
	}
	if n%4 == 1 && coat%6 > 0 {
		place = append(place, "--along", zone(coat%6-1))
	}
	if n%4 == 0 && coat%6 < 5 {
		place = append(place, "--along", zone(coat%6+1))
	}
	as(8, batch...)
	if n%4 == 1 {
		as(9, "test", strconv.Itoa(n), "--gross", ts.Getenv("GROSS"), "--tare", "2kg", "--measure", "7l")
	}
	as(22, place...)
	if n%4 == 0 && ts.Getenv("BARE") != zone(coat%6) {
		as(24, "cover", zone(coat%6), "wet", "burlap")
	}
}

// twopages FILE checks that a report fits two printed pages, each 60 lines of 80 columns.
func twoPages(ts *testscript.TestScript, _ bool, args []string) {
	lines := strings.Split(strings.TrimSuffix(ts.ReadFile(args[0]), "\n"), "\n")
	if len(lines) > 120 {
		ts.Fatalf("it has %d lines, more than two pages of 60", len(lines))
	}
	for _, l := range lines {
		if n := utf8.RuneCountInString(l); n > 80 {
			ts.Fatalf("a line of %d columns: %s", n, l)
		}
	}
}
