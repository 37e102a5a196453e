package explain_test

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/layout/source"
)

// load compiles an example at a venue, each once for all tests.
func load(t *testing.T, name string, o show.LoadOptions) *show.Loaded {
	t.Helper()
	once, _ := loads.LoadOrStore(name+" "+o.Venue, sync.OnceValues(func() (*show.Loaded, error) {
		var p source.Problems
		s, err := show.Load(show.Disk{}, filepath.Join("../../../examples", name, "show.toml"), o, &p)
		if err == nil && s.Result.Show == nil {
			var list strings.Builder
			source.Print(&list, p.All())
			err = errors.New(list.String())
		}
		return s, err
	}))
	s, err := once.(func() (*show.Loaded, error))()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return s
}

var loads sync.Map // of functions, by name and venue

var (
	sent = regexp.MustCompile(`(?m)^  sent        (-?[0-9.]+) on the mixer's step of [^:]*: (\S+) (\S+)$`)
	zone = regexp.MustCompile(`(?m)^  sent        zone ([0-9]+): (\S+)( dB)?$`)
)

// What is explained is what is sent: every number that ends a part of the text stands in the snapshot of the cue, of
// every channel in every cue, open or closed.
func TestExplainedIsSent(t *testing.T) {
	for name, o := range map[string]show.LoadOptions{
		"tiny": {}, "foghorn": {}, "kites": {}, "mill": {},
		"harbor": {Venue: "../../../examples/harbor/venues/lantern-quay-zones.toml"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := load(t, name, o)
			compared := 0
			for i := range s.Show.Cues {
				if name == "harbor" && i%12 > 0 {
					continue // one cue in twelve of a long show
				}
				for _, ch := range s.Show.Cues[i].Channels {
					if ch.Player != "" {
						compared += compare(t, s, &s.Show.Cues[i], ch)
					}
				}
			}
			if compared < 3*len(s.Show.Cues[0].Channels) {
				t.Errorf("only %d numbers were compared", compared)
			}
		})
	}
}

// compare holds the text about one channel to its snapshot, and returns how many numbers it has compared.
func compare(t *testing.T, s *show.Loaded, c *cue.Snapshot, ch cue.Channel) (compared int) {
	t.Helper()
	var b bytes.Buffer
	if err := explain.Write(&b, s, c.ID, ch.Player); err != nil {
		if ch.Open || !strings.Contains(err.Error(), "no cue opens") {
			t.Errorf("cue %s, %s: %v", c.ID, ch.Player, err)
		}
		return 0
	}
	text := b.String()
	want := map[string]float64{"pan": ch.Pan, "delay": ch.DelayMS}
	if ch.Open {
		want["level"] = float64(ch.LevelDB)
	}
	for _, p := range ch.Params {
		want[p.Name] = p.Value
	}
	for _, m := range sent.FindAllStringSubmatch(text, -1) {
		v, err := strconv.ParseFloat(m[3], 64)
		w, known := want[m[2]]
		if err != nil || known && v != w || !known && m[2] != "level" {
			t.Errorf("cue %s, %s: %s is explained as %s, and sent as %g", c.ID, ch.Player, m[2], m[3], w)
		}
		compared++
	}
	sends := map[string]string{}
	for _, x := range ch.Sends {
		sends[fmt.Sprint(x.Zone)] = "off"
		if x.LevelDB != cue.Silent {
			sends[fmt.Sprint(x.Zone)] = fmt.Sprintf("%.2f", float64(x.LevelDB))
		}
	}
	for _, m := range zone.FindAllStringSubmatch(text, -1) {
		if sends[m[1]] != m[2] {
			t.Errorf("cue %s, %s: zone %s is explained as %s, and sent as %s", c.ID, ch.Player, m[1], m[2], sends[m[1]])
		}
		compared++
	}
	if closed := strings.Contains(text, " is closed in cue "+c.ID); closed == ch.Open {
		t.Errorf("cue %s, %s: open %v, and the text says closed: %v", c.ID, ch.Player, ch.Open, closed)
	}
	for _, m := range s.Mixer.Messages(nil, &cue.Snapshot{Channels: []cue.Channel{ch}}) {
		if !strings.Contains(text, "  "+m.String()+"\n") {
			t.Errorf("cue %s, %s: the text does not have the message %s", c.ID, ch.Player, m)
		}
	}
	return compared
}

// The number of a channel explains whoever wears it in that cue.
func TestChannelNumber(t *testing.T) {
	s := load(t, "foghorn", show.LoadOptions{})
	for i := range s.Show.Cues {
		c := &s.Show.Cues[i]
		for _, ch := range c.Channels {
			var byName, byNumber bytes.Buffer
			want := explain.Write(&byName, s, c.ID, ch.Player)
			got := explain.Write(&byNumber, s, c.ID, strconv.Itoa(ch.Channel))
			if ch.Player == "" {
				if got == nil || !strings.HasPrefix(got.Error(), "nobody wears channel") {
					t.Errorf("cue %s, channel %d, which nobody wears: %v", c.ID, ch.Channel, got)
				}
				continue
			}
			if fmt.Sprint(got) != fmt.Sprint(want) || byNumber.String() != byName.String() {
				t.Errorf("cue %s, channel %d: %v, not as for %s: %v", c.ID, ch.Channel, got, ch.Player, want)
			}
		}
	}
}

// A name, channel or cue that does not exist is an error that offers the nearest name.
func TestNobodyToExplain(t *testing.T) {
	s := load(t, "tiny", show.LoadOptions{})
	for _, c := range []struct{ cue, name, want string }{
		{"1", "Tpt 9", `no player and no fixed mic "Tpt 9"; did you mean "Tpt 1"?`},
		{"9", "Tpt 1", `no cue "9"; `},
		{"9", "1", `no cue "9"; `},
		{"1", "99", `no channel 99: `},
	} {
		err := explain.Write(&bytes.Buffer{}, s, c.cue, c.name)
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s %s: %v, want %s", c.cue, c.name, err, c.want)
		}
	}
}

// A path is shown line by line with what is heard, also where nothing glides and the player walks: at 10 ms of lead, a
// delay that stays lets the gap run from 3.6 to 10.0 ms.
func TestWalkWithoutGlide(t *testing.T) {
	s := load(t, "kites", show.LoadOptions{})
	text, err := explain.Text(s, "4", "Mello 1")
	if err != nil {
		t.Fatal(err)
	}
	want := `GLIDE
  delay and pan stay while the player walks, until the next cue
  count         time s  delay ms       pan   need ms    gap ms     ms/s   cents
  2:1           30.247      39.0    0.0000    35.424     3.576
  2:12          36.140      39.0    0.0000    29.020     9.980        -       -
`
	if !strings.Contains(text, want) {
		t.Errorf("not\n%sin\n%s", want, text)
	}
}

// The short answer is a dozen lines for every channel of every cue. Its numbers are those that are sent, and their terms
// add up to them.
func TestBrief(t *testing.T) {
	t.Parallel()
	level := regexp.MustCompile(`(?m)^  level       (\S+) dB = `)
	delay := regexp.MustCompile(`(?m)^  delay       (\S+) ms = own sound (\S+) - .+ (\S+) = (\S+), and (\S+) (later|earlier); decided by `)
	terms := 0
	for _, name := range []string{"tiny", "foghorn", "kites", "mill"} {
		s := load(t, name, show.LoadOptions{})
		for i := range s.Show.Cues {
			c := &s.Show.Cues[i]
			for _, ch := range c.Channels {
				var b bytes.Buffer
				if err := explain.Brief(&b, s, c.ID, ch.Player); err != nil {
					continue // nobody, or no cue opens it: TestExplainedIsSent
				}
				text := b.String()
				if n := strings.Count(text, "\n"); n > 12 || !strings.HasSuffix(text, explain.MoreSteps+"\n") {
					t.Errorf("cue %s %s: %d lines:\n%s", c.ID, ch.Player, n, text)
				}
				if m := level.FindStringSubmatch(text); ch.Open && (m == nil || m[1] != fmt.Sprint(float64(ch.LevelDB))) {
					t.Errorf("cue %s %s: level %v is not in\n%s", c.ID, ch.Player, ch.LevelDB, text)
				}
				m := delay.FindStringSubmatch(text)
				if m == nil {
					continue
				}
				var v [6]float64
				for k := 1; k <= 5; k++ {
					v[k], _ = strconv.ParseFloat(m[k], 64)
				}
				if m[6] == "earlier" {
					v[5] = -v[5]
				}
				// Each term is rounded to a tenth.
				if off := v[2] - v[3] - v[4]; off > 0.11 || off < -0.11 {
					t.Errorf("cue %s %s: %g - %g is not %g", c.ID, ch.Player, v[2], v[3], v[4])
				}
				if off := v[4] + v[5] - v[1]; off > 0.11 || off < -0.11 || v[1] != ch.DelayMS {
					t.Errorf("cue %s %s: %g + %g is not %g, or that is not sent: %g", c.ID, ch.Player, v[4], v[5], v[1], ch.DelayMS)
				}
				terms++
			}
		}
	}
	if terms < 20 {
		t.Errorf("only %d delays were added up", terms)
	}
}
