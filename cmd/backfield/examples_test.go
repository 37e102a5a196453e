package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
)

// runIn runs the command and returns its exit code and what it said.
func runIn(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, talk bytes.Buffer
	code = execute(context.Background(), args, &out, &talk)
	return code, out.String(), talk.String()
}

// said is what a command says that reads the examples as they stand and writes nothing: each is run once for all tests.
func said(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	type result struct {
		code        int
		out, talked string
	}
	once, _ := saidOnce.LoadOrStore(strings.Join(args, "\x00"), sync.OnceValue(func() result {
		var out, talk bytes.Buffer
		code := execute(context.Background(), args, &out, &talk)
		return result{code, out.String(), talk.String()}
	}))
	r := once.(func() result)()
	return r.code, r.out, r.talked
}

var saidOnce sync.Map // of functions

// compiledOnce and zonedOnce are the demo at its own venue, and on zones. Do not change them: each is compiled once for
// all tests.
var compiledOnce, zonedOnce = sync.OnceValue(func() *show.Loaded { return compiledDemo("") }),
	sync.OnceValue(func() *show.Loaded { return compiledDemo(harborZones) })

// demoProblems is what was said of the demo, by venue.
var demoProblems sync.Map

func compiledDemo(venue string) *show.Loaded {
	var p source.Problems
	s, err := show.Load(show.Disk{}, harbor+"/show.toml", show.LoadOptions{Venue: venue}, &p)
	if err != nil || s.Show == nil {
		panic("the demo does not compile")
	}
	demoProblems.Store(venue, p.All())
	return s
}

// smallDemo is a copy of the demo with a tenth of its seats each way: for tests that are about something else than how
// well the stand is served, it compiles in a small part of the time.
func smallDemo(t *testing.T) string {
	t.Helper()
	dir := copied(t, harbor)
	fewerSeats(t, dir, 3, 8)
	return dir
}

// fewerSeats gives a copy of the demo stands with so many rows and seats in a row: its numbers are much the same with a
// tenth of the seats.
func fewerSeats(t *testing.T, dir string, rows, seats int) {
	t.Helper()
	rig := filepath.Join(dir, "rig.toml")
	replace(t, rig, "rows  = 30", fmt.Sprintf("rows  = %d", rows))
	replace(t, rig, "seats = 80", fmt.Sprintf("seats = %d", seats))
}

// wholeDemo has the tests compute with the whole demo what they otherwise take from a small one or leave out.
var wholeDemo = flag.Bool("demo", false, "tune the whole demo and compile it for every number that the pages quote")

const (
	harbor      = "../../examples/harbor"
	harborZones = harbor + "/venues/lantern-quay-zones.toml"
)

// Every example is a show without an error or a warning that its designer has not accepted.
func TestExamplesAreClean(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{
		{"../../examples/tiny"}, {"../../examples/mill"}, {"../../examples/kites"}, {"../../examples/foghorn"},
		{harbor + "/last-week"}, {harbor, "--venue", harbor + "/venues/tarn-hollow.toml"},
	} {
		if code, out, talk := runIn(t, append([]string{"check", "--strict"}, args...)...); code != 0 {
			t.Errorf("%v: %d\n%s%s", args, code, out, talk)
		}
	}
	compiledOnce()
	zonedOnce()
	for _, venue := range []string{"", harborZones} {
		list, compiled := demoProblems.Load(venue)
		var b strings.Builder
		if source.Print(&b, list.([]source.Problem)); b.Len() > 0 || !compiled {
			t.Errorf("the demo, venue %q:\n%s", venue, &b)
		}
	}
}

// The demo is of the size that it is meant to be, and with zone sends more seats are in time than in stereo.
func TestHarborIsAShow(t *testing.T) {
	t.Parallel()
	mean := func(s *show.Loaded) float64 {
		knots := 0
		for _, c := range s.Show.Cues {
			for _, ch := range c.Channels {
				knots += len(ch.Glide)
			}
		}
		if len(s.Drill.Sets) < 28 || len(s.Drill.Players) < 130 || len(s.Show.Cues) < 40 || knots < 300 ||
			len(s.Clock.Movements) != 3 || len(s.Show.Cues[0].Channels) != 29 {
			t.Errorf("%d sets, %d players, %d cues, %d knots, %d channels", len(s.Drill.Sets),
				len(s.Drill.Players), len(s.Show.Cues), knots, len(s.Show.Cues[0].Channels))
		}
		fit, _ := s.Show.MeanFit()
		return fit.InTime
	}
	stereo, zones := mean(compiledOnce()), mean(zonedOnce())
	if zones < stereo+0.1 {
		t.Errorf("seats in time: %.2f with zones, %.2f in stereo", zones, stereo)
	}
}

// compare lists the channels that the weather moves most first, and the two nights by their names.
func TestCompare(t *testing.T) {
	t.Parallel()
	demo := smallDemo(t)
	code, out, _ := runIn(t, "compare", demo, "--air", "5C,38C")
	lines := strings.Split(out, "\n")
	if code != 0 || len(lines) < 25 || !strings.HasPrefix(lines[0], "A  Lantern Quay Stadium, 5 C (41 F):") ||
		!strings.HasPrefix(lines[2], "B  Lantern Quay Stadium, 38 C (100 F):") {
		t.Fatalf("%d\n%s", code, out)
	}
	if code, _, talk := runIn(t, "compare", demo, "--air", "5C"); code != verb.ExitUsage ||
		!strings.Contains(talk, "two nights or more") {
		t.Errorf("one night: %d %s", code, talk)
	}
	if code, _, talk := runIn(t, "compare", demo, "--air", "5C,hot"); code != verb.ExitUsage ||
		!strings.Contains(talk, "--air") {
		t.Errorf("no temperature: %d %s", code, talk)
	}
}

// tune does what it promises, sets mirror stacks alike even where the rig does not, makes none louder, and says what
// zones would do.
func TestTune(t *testing.T) {
	t.Parallel()
	dir := smallDemo(t)
	if *wholeDemo {
		dir = copied(t, harbor)
	} else {
		replace(t, filepath.Join(dir, "rig.toml"), "delay = 0", "delay = 7") // of outer left alone
	}
	code, out, _ := said(t, "tune", dir)
	if code != 0 || !strings.Contains(out, "zone sends") || !strings.Contains(out, "[[stack]]") {
		t.Fatalf("%d\n%s", code, out)
	}
	// With what it prints written into the rig, the rig has the seats in time that it promises.
	text, err := os.ReadFile(filepath.Join(dir, "rig.toml"))
	if err != nil {
		t.Fatal(err)
	}
	rig := string(text)
	_, lines, _ := strings.Cut(out, "write this into the rig:\n")
	for _, block := range strings.Split(strings.TrimSpace(lines), "\n\n") {
		head, settings, _ := strings.Cut(block, "\n")
		name := strings.TrimPrefix(head, "# [[stack]] ")
		before, rest, found := strings.Cut(rig, "name  = "+name+"\n")
		stack, after, _ := strings.Cut(rest, "\n\n")
		if !found {
			t.Fatalf("the rig has no stack %s", name)
		}
		for _, setting := range strings.Split(settings, "\n") {
			key, _, _ := strings.Cut(setting, " ")
			stack = regexp.MustCompile("(?m)^"+key+" .*$").ReplaceAllLiteralString(stack, setting)
		}
		rig = before + "name  = " + name + "\n" + stack + "\n\n" + after
	}
	if err := os.WriteFile(filepath.Join(dir, "rig.toml"), []byte(rig), 0o644); err != nil {
		t.Fatal(err)
	}
	setting := func(side, key string) string {
		return regexp.MustCompile(`(?s)name  = "` + side + `".*?\n` + key + ` += (\S+)`).FindStringSubmatch(rig)[1]
	}
	for _, pair := range [][2]string{{"outer left", "outer right"}, {"inner left", "inner right"}} {
		for _, k := range [][2]string{{"delay", "delay"}, {"trim", "trim"}, {"left", "right"}, {"right", "left"}} {
			if a, b := setting(pair[0], k[0]), setting(pair[1], k[1]); a != b {
				t.Errorf("%s: %s %s, but %s: %s %s", pair[0], k[0], a, pair[1], k[1], b)
			}
		}
		if trim, err := strconv.ParseFloat(setting(pair[0], "trim"), 64); err != nil || trim > 0 {
			t.Errorf("%s is louder than it was: trim %g, %v", pair[0], trim, err)
		}
	}
	row := func(out, name string) string {
		return regexp.MustCompile("(?m)^  " + name + " +(.*)$").FindStringSubmatch(out)[1]
	}
	if code, again, talk := runIn(t, "tune", dir); code != 0 || row(again, "as the rig is") != row(out, "tuned") {
		t.Errorf("%d: promised %s\n%s%s", code, row(out, "tuned"), again, talk)
	}
	_, summary, talk := runIn(t, "compile", dir)
	figures := regexp.MustCompile(`([0-9.]+) % +([0-9.]+) % +([0-9.]+ to [0-9.]+) `).FindStringSubmatch(row(out, "tuned"))
	percent := func(i int) string {
		v, err := strconv.ParseFloat(figures[i], 64)
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("%.0f %% ", v)
	}
	for _, want := range []string{percent(1) + "of seats in time, ", percent(2) + "without an echo; ", figures[3] + " ms after"} {
		if !strings.Contains(summary+talk, want) {
			t.Errorf("tune promised %s; compile does not say %q:\n%s%s", row(out, "tuned"), want, summary, talk)
		}
	}
	if code, _, talk := runIn(t, "tune", "../../examples/tiny"); code != verb.ExitUsage ||
		!strings.Contains(talk, "needs stands") {
		t.Errorf("without stands: %d %s", code, talk)
	}
	if code, _, talk := runIn(t, "tune", dir, "--venue", harborZones); code != verb.ExitUsage ||
		!strings.Contains(talk, "zones") {
		t.Errorf("with zones: %d %s", code, talk)
	}
}

func TestSuggest(t *testing.T) {
	t.Parallel()
	code, out, talk := runIn(t, "suggest", smallDemo(t))
	if code != 0 || !strings.Contains(out, "open for over 96 counts") || !strings.Contains(talk, "suggestion") {
		t.Fatalf("%d\n%s%s", code, out, talk)
	}
}
