package heard_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/rules"
	"backfield/layout/source"
)

// changedFiles reads the shows of testdata/loud with some texts replaced.
type changedFiles struct {
	t     *testing.T
	pairs []string // file, old, new
}

func (f changedFiles) Read(path string) ([]byte, error) {
	data, err := os.ReadFile(path)
	text := string(data)
	for i := 0; i < len(f.pairs); i += 3 {
		if filepath.Base(path) != f.pairs[i] {
			continue
		}
		if strings.Count(text, f.pairs[i+1]) != 1 {
			f.t.Errorf("%s has %q %d times", path, f.pairs[i+1], strings.Count(text, f.pairs[i+1]))
		}
		text = strings.Replace(text, f.pairs[i+1], f.pairs[i+2], 1)
	}
	return []byte(text), err
}

// found is what check says of a changed show, a line each.
func found(t *testing.T, name string, pairs ...string) string {
	t.Helper()
	var p source.Problems
	path := filepath.Join("..", "..", "testdata", "loud", name, "show.toml")
	s, err := show.Load(changedFiles{t, pairs}, path, show.LoadOptions{Levels: true}, &p)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, x := range p.All() {
		b.WriteString(x.Severity.String() + " " + x.Code + " " + x.What + "\n")
		if x.Do == "" {
			t.Errorf("nothing is said of what to do: %+v", x)
		}
	}
	for _, x := range p.All() {
		if n := len(x.What + x.Do); x.Code != "levels-unknown" && n > 270 { // 220 and a place
			t.Errorf("%d characters are too many for ten seconds: %s; %s", n, x.What, x.Do)
		}
	}
	if (s.Show == nil) != (p.Errors() > 0) {
		t.Errorf("a show, and errors:\n%s", b.String())
	}
	return b.String()
}

// Every rule about levels is broken by one show and just not by another, and can be accepted. What the figures of a show
// are stands in the first of each pair; the limit of the second is set beside it.
func TestRules(t *testing.T) {
	broken, kept := map[string]bool{}, map[string]bool{}
	for _, c := range []struct {
		code, show string
		pairs      []string
		want       string // "": the code is not said
	}{
		{"not-heard", "unheard", nil, "most likely not heard: best octave -1 dB at 90 % of the seats, give or take 4 dB; wanted 0 dB. Loudest others: baritone (8), field mics (1)"},
		{"not-heard", "unheard", []string{"show.toml", "[check]", "[check]\nbest = 6"}, `"1", Tpt 1: not heard: best octave`},
		{"not-heard", "unheard", []string{"show.toml", "[check]", "[check]\nbest = -2"}, ""},
		{"lead-short", "unheard", []string{"show.toml", "[check]", "[check]\nbest = -2"},
			`cue "1", Tpt 1: lead -8 dB at 90 % of the seats, give or take 4 dB; wanted 0 dB. Loudest others: baritone (8), field mics (1)`},
		{"lead-short", "unheard", []string{"show.toml", "[check]", "[check]\nbest = -2\nlead = 8.5"}, ""},
		{"lead-short", "unheard", nil, ""}, // not-heard says more
		{"lead-short", "unheard", []string{"show.toml", `"echo-heard"]`, `"echo-heard", "not-heard"]`}, ""},
		{"stack-leads", "drowned", nil, `the stacks are 17 dB over the player at the box, give or take 7 dB: the ear goes to them. In time at 40 % of the seats`},
		{"stack-leads", "drowned", []string{"show.toml", "[check]", "[balance]\nover = 15\n[check]"},
			`the stacks are 17 dB over the player at the box, give or take 7 dB: the ear may go to them`},
		{"stack-leads", "drowned", []string{"show.toml", "[check]", "[balance]\nover = 16\n[check]"},
			`the stacks are more than 15 dB over the player at `},
		{"stack-leads", "drowned", []string{"show.toml", "solo    = 6 ", "solo    = 0 ",
			"show.toml", "[check]", "[balance]\nover = 18\n[check]"}, ""},
		{"ring-margin", "ringing", nil, `cue "1": all open mics 1 dB past feedback at 1:17`},
		{"ring-margin", "ringing", []string{"show.toml", "ambient = 0 ", "ambient = -6.5 "},
			`all open mics just under 6 dB before feedback at`},
		{"ring-margin", "ringing", []string{"show.toml", "ambient = 0 ", "ambient = -7 "}, ""},
		{"loud-near", "drowned", []string{"show.toml", "[check]", "[check]\nnear_db = 85"},
			`cue "1": loudspeakers 8`},
		{"loud-near", "drowned", []string{"show.toml", "[check]", "[check]\nnear_db = 92"}, ""},
		{"dose", "drowned", []string{"show.toml", `"dose", `, ""},
			"3 h of rehearsal: over a day's dose of sound at "},
		{"dose", "drowned", []string{"show.toml", `"dose", `, "", "show.toml", "[check]", "[balance]\nday = \"1 min\"\n[check]"}, ""},
		{"level-odd", "drowned", []string{"rig.toml", "dba = 70", "dba = 89"}, "noise at nominal has 126 dB at 1 m from the stack; usual is 94 to 112"},
		{"level-odd", "drowned", []string{"rig.toml", "dba = 70", "dba = 74"}, ""},
		{"level-noise", "drowned", []string{"rig.toml", "dba = 70", "dba = 43"}, "43 dBA is less than 3 dB above the background"},
		{"level-noise", "drowned", []string{"rig.toml", "dba = 70", "dba = 44.1"}, ""},
		{"level-unused", "drowned", []string{"rig.toml", `{ stack = "left", dba`, `{ stack = "lefd", dba`},
			`no stack is called "lefd": this reading is not used`},
		{"level-unused", "drowned", []string{"rig.toml", "background = 41", "background = 9"}, "a reading of 9 dB is out of range"},
		{"level-unused", "drowned", nil, ""},
		{"open-rests", "drowned", []string{"show.toml", `open.solo = ["Tpt 1"]`, "open.solo = [\"Tpt 1\"]\nrests = [\"Tpt 1\"]"},
			`cue "1": Tpt 1 rests, but the mic is open`},
		{"open-rests", "drowned", []string{"show.toml", `open.solo = ["Tpt 1"]`, "open.solo = [\"Tpt 1\"]\nrests = [\"@trumpet\"]"},
			`cue "1": Tpt 1 rests, but the mic is open`},
		{"open-rests", "drowned", []string{"show.toml", `open.solo = ["Tpt 1"]`,
			"open.solo = [\"Tpt 1\"]\nplays = [\"Tpt 1\"]\nrests = [\"@trumpet\"]"}, ""},
		{"dynamics-unused", "drowned", []string{"show.toml", `plays     = ["@baritone"]`, ""},
			`cue "1" says how loudly @baritone plays, but nothing says that it plays: it is not counted`},
		{"dynamics-unused", "drowned", []string{"show.toml", `{ "@baritone" = "p" }`, `{ "@baritone" = "p", "Mello 1" = "ff" }`},
			`cue "1" says how loudly Mello 1 plays`},
		{"dynamics-unused", "drowned", []string{"show.toml", `plays     = ["@baritone"]`, `plays     = ["Bari 4"]`}, ""},
		{"dynamics-unused", "drowned", nil, ""},
		{"levels-unknown", "drowned", []string{"roster.csv", "Tpt 1,trumpet", "Tpt 1,gong"}, "nobody knows how loud a gong is"},
		{"levels-unknown", "drowned", nil, ""},
	} {
		text := found(t, c.show, c.pairs...)
		if c.want == "" {
			kept[c.code] = true
			if strings.Contains(text, c.code) {
				t.Errorf("%s %v: said\n%s", c.code, c.pairs, text)
			}
			continue
		}
		broken[c.code] = true
		if !strings.Contains(text, "warning "+c.code+" ") || !strings.Contains(text, c.want) {
			t.Errorf("%s %v: no %q in\n%s", c.code, c.pairs, c.want, text)
		}
		accepted := append([]string{"show.toml", `"echo-heard"]`, `"echo-heard", "` + c.code + `"]`}, c.pairs...)
		if text := found(t, c.show, accepted...); strings.Contains(text, c.code) {
			t.Errorf("%s is still said when it is accepted:\n%s", c.code, text)
		}
	}
	for _, r := range rules.List {
		if r.Heard && !(broken[r.Code] && kept[r.Code]) {
			t.Errorf("no show here breaks, or just does not break, %s", r.Code)
		}
	}
}

// An instrument that the roster names and nobody knows is an error.
func TestErrors(t *testing.T) {
	if text := found(t, "drowned", "roster.csv", "player,section,pack,channel\nTpt 1,trumpet,P1,1",
		"player,section,pack,channel,instrument\nTpt 1,trumpet,P1,1,gong"); !strings.Contains(text, "error no-instrument") {
		t.Error(text)
	}
}

// Cues in which the same fixed mics ring first are one warning.
func TestRingsOfFixedMicsAreSaidOnce(t *testing.T) {
	mic := func(name string, channel, x string) string {
		return "[[mic]]\nname = \"" + name + "\"\nkind = \"field\"\nchannel = " + channel + "\nat = { x = " + x + ", y = -1 }\n"
	}
	text := found(t, "ringing", "rig.toml", "[levels]", mic("west", "10", "-9")+mic("east", "11", "9")+"[levels]",
		"show.toml", "[check]", "[always]\nambient = [\"@field\"]\n[check]", "show.toml", "open.ambient = [\"grass\"]\n", "")
	if strings.Count(text, "ring-margin") != 1 || !strings.Contains(text, `cue "1" and 1 more: all open mics `) {
		t.Error(text)
	}
}
