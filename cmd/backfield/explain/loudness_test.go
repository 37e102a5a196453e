package explain_test

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/show"
	"backfield/layout/level"
	"backfield/layout/source"
)

// fewSeats is what a venue adds to the demo for tests that are about levels: its many seats take most of a compile.
const fewSeats = `[[stands]]
name = "home side lower"
front = { y = "-12 m", z = 2, width = 60 }
back = { y = "-45 m", z = 19, width = 95 }
rows = 3
seats = 8
`

// night is a venue with readings of an invented night.
func night(t *testing.T, readings string) show.LoadOptions {
	t.Helper()
	path := filepath.Join(t.TempDir(), "night.toml")
	if err := os.WriteFile(path, []byte("name = \"night\"\n[levels]\n"+readings+"\n"+fewSeats), 0o600); err != nil {
		t.Fatal(err)
	}
	return show.LoadOptions{Venue: path}
}

const noiseAndBrass = `noise = { stack = "outer left", dba = 66.5 }
brass = { section = "trumpet", set = "7", dba = 71 }
`

// part is what explain writes below a heading.
func part(text, heading string) string {
	_, rest, _ := strings.Cut(text, "\n"+heading+"\n")
	body, _, _ := strings.Cut(rest, "\n\n")
	return body
}

// row is a row of seven numbers.
func row(t *testing.T, text, name string) (db level.Bands) {
	t.Helper()
	m := regexp.MustCompile(`(?m)^  ` + name + ` +((?: *-?[0-9.]+){7})$`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("no row %q in\n%s", name, text)
	}
	for b, field := range strings.Fields(m[1]) {
		db[b], _ = strconv.ParseFloat(field, 64)
	}
	return db
}

func figure(t *testing.T, text, pattern string) float64 {
	t.Helper()
	m := regexp.MustCompile(pattern).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("no %q in\n%s", pattern, text)
	}
	v, _ := strconv.ParseFloat(m[1], 64)
	return v
}

func same(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 0.03 { // sums of terms that are printed to 0.01
		t.Errorf("%s: %.2f, want %.2f", what, got, want)
	}
}

// The terms of OWN, STACKS and LOOP add up to what balance says of the same cue: of a player who is featured alone,
// and of a fixed mic.
func TestLoudnessAddsUp(t *testing.T) {
	t.Parallel()
	s := load(t, "harbor", night(t, noiseAndBrass+"ring = [{ mic = \"pit far left\", fader = 4 }]\n"))
	i, ok := cueIndex(s, "10")
	if !ok {
		t.Fatal("no cue 10")
	}
	var p source.Problems
	l := s.Loudness(&p)
	c := l.Cue(i)
	text, err := explain.Text(s, "10", "Tpt 3")
	if err != nil {
		t.Fatal(err)
	}
	own, stacks := part(text, "OWN"), part(text, "STACKS")
	same(t, "own", figure(t, own, `together +([0-9.]+) dBA`), c.Heard[0].Box.FeaturedOwn.ADB())
	same(t, "stacks", figure(t, stacks, `together +([0-9.]+) dBA`), c.Heard[0].Box.FeaturedStacks.ADB())
	sum := row(t, own, "own")
	far := figure(t, own, `= (-[0-9.]+) in every band`)
	for b := range sum {
		terms := far
		for _, name := range []string{"power", "directivity", "bell", "air"} {
			terms += row(t, own, name)[b]
		}
		same(t, "sum of the terms of own", terms, sum[b])
	}
	first, _, _ := strings.Cut(stacks, "inner left")
	there := row(t, first, "there")
	every := figure(t, first, `= (-?[0-9.]+)\n  fader`) + figure(t, first, `fader +(-?[0-9.]+)`) +
		figure(t, first, `send (-?[0-9.]+)`) + figure(t, first, `-20 lg r = (-?[0-9.]+);`)
	for b := range there {
		terms := every + row(t, first, "at the mic")[b] + row(t, first, "pattern")[b] + row(t, first, "air")[b]
		same(t, "sum of the terms of a stack", terms, there[b])
	}
	for name, take := range map[string]string{"Tpt 3": "5", "pit far left": "2"} {
		text, err := explain.Text(s, "10", name)
		if err != nil {
			t.Fatal(err)
		}
		loop := part(text, "LOOP")
		found := false
		for _, m := range c.Loops[0].Gains.Mics {
			if m.Name == name {
				db, band := m.GreatestDB()
				same(t, "loop of "+name, figure(t, loop, `greatest +(-?[0-9.]+) dB`), db)
				same(t, "its band", figure(t, loop, `dB at ([0-9]+) Hz`), float64(level.NominalHz[band]))
				found = true
			}
		}
		if !found || !strings.Contains(loop, "give or take "+take+" dB") {
			t.Errorf("%s: not among the loops, or no give or take of %s dB in\n%s", name, take, loop)
		}
	}
}

func cueIndex(s *show.Loaded, id string) (int, bool) {
	for i := range s.Show.Cues {
		if s.Show.Cues[i].ID == id {
			return i, true
		}
	}
	return 0, false
}

// Before noise and brass were both measured, the terms are there and what they come to is not. Nothing is wider than
// 80 columns.
func TestMeasureFirst(t *testing.T) {
	t.Parallel()
	noise, _, _ := strings.Cut(noiseAndBrass, "\n")
	for _, readings := range []string{"", noise} {
		s := load(t, "harbor", night(t, readings))
		text, err := explain.Text(s, "10", "Tpt 3")
		if err != nil {
			t.Fatal(err)
		}
		for _, heading := range []string{"OWN", "STACKS", "LOOP"} {
			body := part(text, heading)
			if strings.Count(body, "measure first: noise and brass") != 1 {
				t.Errorf("%s does not say once to measure first:\n%s", heading, body)
			}
			for _, held := range []string{"together", "there  ", "back  ", "greatest", "give or take"} {
				if strings.Contains(body, held) {
					t.Errorf("%s has %q before it may be said:\n%s", heading, held, body)
				}
			}
			for _, line := range strings.Split(body, "\n") {
				if utf8.RuneCountInString(line) > 80 {
					t.Errorf("wider than 80 columns: %s", line)
				}
			}
		}
	}
}

// What makes no sound, and what no mic hears, says so.
func TestNoLoudness(t *testing.T) {
	t.Parallel()
	s := load(t, "mill", show.LoadOptions{})
	for i := range s.Show.Cues {
		for _, ch := range s.Show.Cues[i].Channels {
			if ch.Open {
				text, err := explain.Text(s, s.Show.Cues[i].ID, ch.Player)
				if err != nil {
					t.Fatal(err)
				}
				if !strings.Contains(text, "\nSTACKS\n") && !strings.Contains(text, "\nOWN, STACKS, LOOP\n  not computed: ") {
					t.Errorf("cue %s, %s: nothing about the stacks in\n%s", s.Show.Cues[i].ID, ch.Player, text)
				}
			}
		}
	}
}
