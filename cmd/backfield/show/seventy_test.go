package show_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// plant is a mistake that is put into a show: a text of one of its files, what stands there instead, and the code of the
// one message that it must get, on the line of what is changed or in the two lines above.
type plant struct{ file, old, now, code string }

// planted are mistakes of every kind in all files of a show, at the same time.
var planted = []plant{
	{"show.toml", `title  =`, `tittle =`, "unknown-key"},
	{"show.toml", `level = -9, dynamics`, `level = 99, dynamics`, "out-of-range"},
	{"show.toml", `dynamics = "p" }    # the bed`, `dynamics = "quiet" }    # the bed`, "bad-choice"},
	{"show.toml", `ambient = -15`, `ambient = "soft"`, "bad-quantity"},
	{"show.toml", `"pit far left", "pit left"`, `"pit far lfet", "pit left"`, "unknown-player"},
	{"show.toml", `bpm = 152, over = 16`, `bpm = 1520, over = 16`, "bad-tempo"},
	{"show.toml", `{ at = 104, pause = 1.5 }`, `{ at = 104, pause = -1.5 }`, "out-of-range"},
	{"show.toml", `wait   = 5`, `wait   = -5`, "out-of-range"},
	{"show.toml", `{ at = 189, bpm = 184,`, `{ at = 189, tempo = 184,`, "unknown-key"},
	{"show.toml", `["Tuba 4", "Tuba 7"]`, `["Tuba 44", "Tuba 7"]`, "unknown-player"},
	{"show.toml", `"set 2"`, `"set 222"`, "unknown-set"},
	{"show.toml", "= 1\n\n[[cue]]\nid           = \"5\"", "= \"1 s\"\n\n[[cue]]\nid           = \"5\"", "wrong-type"},
	{"show.toml", `open.feature = ["Tpt 20"]`, `open.featuer = ["Tpt 20"]`, "unknown-role"},
	{"show.toml", `"1:57"`, `"1:570"`, "unreadable-count"},
	{"show.toml", `"Bari 12" = 1.0`, `"Bari 12" = "loud"`, "bad-quantity"},
	{"show.toml", "[\"@baritone\"]\nfade         = 2", "[\"@baritone\"]\nfade         = -2", "out-of-range"},
	{"show.toml", `= "10"`, `= "9"`, "duplicate-id"},
	{"show.toml", "[\"many-open\"]\n\n# Battery", "[\"many-opne\"]\n\n# Battery", "unknown-code"},
	{"show.toml", "at           = \"set 9A\"\n", "", "missing-key"},
	{"show.toml", `["Mello 2", "Mello 11"]`, `["Mello 2", "Mello 2"]`, "opened-twice"},
	{"show.toml", `at           = "set 10"`, `at           = "sett 10"`, "unreadable-count"},
	{"show.toml", "front\"\nopen.full = [\"@trumpet\", \"@mello", "front\"\nopen.full = [\"@trumpet\", \"@melo", "unknown-section"},
	{"show.toml", `{ "Tuba 4" = 1.5`, `{ "Tuba 4" = 150`, "out-of-range"},
	{"show.toml", "tubas under him\"\nkeep     = true", "tubas under him\"\nkeep     = \"yes\"", "wrong-type"},
	{"show.toml", `at           = "set 23"`, `at           = "set 21"`, "same-moment"},
	{"show.toml", `name         = "two eddies`, "policy = \"fastest\"\nname = \"two eddies", "bad-choice"},
	{"show.toml", "fade         = 8\nallow        = [\"many-open\", \"lead", "fde          = 8\nallow        = [\"many-open\", \"lead", "unknown-key"},

	{"rig.toml", `"college"`, `"colege"`, "bad-choice"},
	{"rig.toml", `"4.2 ms"`, `"42000 ms"`, "out-of-range"},
	{"rig.toml", `"24 C"`, `"24 K"`, "out-of-range"},
	{"rig.toml", `{ x = -18, y = -1 }`, `{ x = -18 }`, "missing-key"},
	{"rig.toml", `"-40 yd"`, `"40 yd"`, "seat-on-field"},
	{"rig.toml", `rows  = 30`, `rows  = 0`, "out-of-range"},
	{"rig.toml", `{ x = -24, y`, `{ x = "24 feets", y`, "bad-quantity"},
	{"rig.toml", "z = 2.2 }\nleft  = 1", "z = 2.2 }\nleft  = \"full\"", "wrong-type"},
	{"rig.toml", `"inner right"`, `"inner left"`, "duplicate-name"},
	{"rig.toml", "delay = 0\n\n[[stack]]\nname  = \"subs\"", "delay = -50\n\n[[stack]]\nname  = \"subs\"", "out-of-range"},
	{"rig.toml", `sub   = true`, `sub   = "yes"`, "wrong-type"},
	{"rig.toml", "\"field left\"\nkind    = \"field\"", "\"field left\"\nkind    = \"feild\"", "bad-choice"},
	{"rig.toml", `channel = 42`, `channel = 41`, "channel-twice"},
	{"rig.toml", `"S2 on 30;`, `"S2 on 31;`, "bad-dot"},
	{"rig.toml", "height  = 1.4\n\n[[mic]]\nname    = \"pit left\"", "hieght  = 1.4\n\n[[mic]]\nname    = \"pit left\"", "unknown-key"},
	{"rig.toml", `channel = 47`, `channel = 470`, "no-such-channel"},
	{"rig.toml", `"S2 1 inside 45;`, `"1 inside 45;`, "bad-dot"},

	{"mixer.toml", `127.0.0.1:9000`, `127.0.0.1:90000`, "mixer-to"},
	{"mixer.toml", `"constant-power"`, `"constant"`, "bad-choice"},
	{"mixer.toml", `[-25, 0.3]`, `[-25, 0.9]`, "mixer-scale"},
	{"mixer.toml", `type    = "i"`, `type    = "x"`, "mixer-type"},
	{"mixer.toml", `step    = 0.01`, `step    = -0.01`, "mixer-range"},
	{"mixer.toml", `"glide"`, `"slides"`, "mixer-moves"},
	{"mixer.toml", `max     = 500`, `max     = "500 m"`, "bad-quantity"},
	{"mixer.toml", `"{address}"`, `"{adress}"`, "mixer-address"},
	{"mixer.toml", `"20 s"`, `"20 V"`, "bad-quantity"},
	{"mixer.toml", `["{name}"]`, `["{nmae}"]`, "mixer-argument"},
	{"mixer.toml", `"/scene/{slot}/recall"`, `"scene/{slot}/recall"`, "mixer-address"},
	{"mixer.toml", `rise    = "12 dB"`, `rise    = "-12 dB"`, "out-of-range"},
	{"mixer.toml", `channel = 43`, `channel = 42`, "mixer-twice"},

	{"roster.csv", `Tpt 6,trumpet,P03,3,`, `Tpt 6,trumpet,P03,three,`, "bad-number"},
	{"roster.csv", `Tpt 9,trumpet,P04,4,`, `Tpt 9,trumpet,P04,1,`, "channel-twice"},
	{"roster.csv", `Tpt 11,trumpet,P05,5,`, `Tpt 11,trumpet,P05,,`, "pack-without-channel"},
	{"roster.csv", `Tpt 15,trumpet,P06,6,,,-1`, `Tpt 15,trumpet,P06,6,,,soft`, "bad-number"},
	{"roster.csv", `Bari 16,baritone,P17,17,2:9`, `Bari 16,baritone,P17,17,9:9`, "unreadable-count"},
	{"roster.csv", `P18,18,,1.7,`, `P18,18,,17,`, "out-of-range"},
	{"roster.csv", `Mello 3,`, `Melo 3,`, "unknown-player"},
	{"roster.csv", `Mello 4,mellophone,,,,,`, `Mello 4,mellophone,,,,tall,`, "bad-number"},
	{"roster.csv", `Tpt 13,trumpet,P08,8,set 20`, `Tpt 13,trumpet,P08,8,set 200`, "unknown-set"},
	{"roster.csv", `Tpt 1,trumpet,P01,1,,,`, `Tpt 1,trumpet,P01,1,,,99`, "out-of-range"},

	{"sets.csv", "9A,1,8,0", "9A,1,eight,0", "bad-number"},
	{"sets.csv", "11,1,28,8", "11,1,28,80", "bad-hold"},
	{"sets.csv", "16,2,16,0", "16,1,16,0", "set-order"},
	{"sets.csv", "\n25,3,8,0", "\n24,3,8,0", "duplicate-set"},
	{"sets.csv", "30,3,24,0", "30,3,,0", "missing-cell"},
	{"sets.csv", "\n5,1,16,0", "\n5,1,16,-1", "bad-number"},
	{"sets.csv", "\n17,2,20,0", "\n17,2,0,0", "bad-counts"},
	{"sets.csv", "\n18,2,24,4", "\n18,two,24,4", "bad-number"},
	{"sets.csv", "\n21,3,12,4", "\n21,3,12.5,4", "bad-number"},
	{"sets.csv", "\n23,3,16,0", "\n23,3,16,none", "bad-number"},

	{"dots.csv", "1,Tpt 2,S1 2.25 outside 30", "1,Tpt 2,S1 2.25 beyond 30", "bad-dot"},
	{"dots.csv", "1,Tpt 4,S1 0.75", "1,Tpt 4,0.75", "bad-dot"},
	{"dots.csv", "\n2,Tpt 5,", "\n2,Tptt 5,", "unknown-player"},
	{"dots.csv", "\n3,Tpt 7,", "\n333,Tpt 7,", "unknown-set"},
	{"dots.csv", "\n4,Tpt 8,", "\n4,Tpt 7,", "duplicate-dot"},
	{"dots.csv", "\n5,Tpt 9,", "\n5,,", "missing-cell"},
	{"dots.csv", "5,Tpt 18,S2 4 outside 35", "5,Tpt 18,S2 4 outside 37", "bad-dot"},
	{"dots.csv", "6,Tuba 1,S1 3 inside 40,9.75 behind", "6,Tuba 1,S1 3 inside 40,9.75", "bad-dot"},
	{"dots.csv", "7,Mello 5,S1", "7,Mello 5,S2", "step-size"},
	{"dots.csv", "8,Bari 4,S1 2 outside 40,6 in front of front hash", "8,Bari 4,S1 2 outside 40,", "bad-dot"},
	{"dots.csv", "15,Tpt 14,S1 3.5", "15,Tpt 14,S1 3.5.5", "bad-dot"},
	{"dots.csv", "27,Tpt 3,S1 1.75 outside 50", "27,Tpt 3,S1 40 outside G", "off-field"},
	{"dots.csv", "22,Tpt 2,S1 3.75 inside", "22,Tpt 2,Left 3.75 inside", "bad-dot"},
}

// Mistakes of every kind, all at once, get one message each, and no message is about anything else.
func TestSeventyMistakesAtOnce(t *testing.T) {
	all, offsets := harbor(t), make([]int, len(planted))
	for i, x := range planted {
		at := strings.Index(all[x.file], x.old)
		if at < 0 {
			t.Fatalf("%s has no %q", x.file, x.old)
		}
		same := 0
		for same < min(len(x.old), len(x.now)) && x.old[same] == x.now[same] {
			same++
		}
		offsets[i] = at + same
		for j := range i { // those below move
			if planted[j].file == x.file && offsets[j] > at {
				offsets[j] += len(x.now) - len(x.old)
			}
		}
		all = all.with(x.file, x.old, x.now)
	}
	var p source.Problems
	if _, err := show.Load(all, "show.toml", show.LoadOptions{Levels: true}, &p); err != nil {
		t.Fatal(err)
	}
	left := p.All()
	for i, x := range planted {
		line := strings.Count(all[x.file][:offsets[i]], "\n") + 1
		found := slices.IndexFunc(left, func(p source.Problem) bool {
			near := func(s source.Span) bool {
				at, _ := s.Position()
				return s.File != nil && s.File.Name == x.file && at <= line && at >= line-2
			}
			return p.Code == x.code && (near(p.Span) || slices.ContainsFunc(p.Notes,
				func(n source.Note) bool { return near(n.Span) }))
		})
		if found < 0 {
			t.Errorf("%s:%d: %q for %q is not reported as %s", x.file, line, x.now, x.old, x.code)
			continue
		}
		left = slices.Delete(left, found, found+1)
	}
	for _, x := range left {
		t.Errorf("no mistake was made there: %s %s; %s [%s]", x.Span.Where(), x.What, x.Do, x.Code)
	}
	if len(planted) < 70 {
		t.Errorf("only %d mistakes", len(planted))
	}
}

// harbor is the demo, by file name.
func harbor(t *testing.T) files {
	t.Helper()
	all := files{}
	for _, name := range []string{"show.toml", "rig.toml", "mixer.toml", "roster.csv", "sets.csv", "dots.csv"} {
		data, err := os.ReadFile(filepath.Join("../../../examples/harbor", name))
		if err != nil {
			t.Fatal(err)
		}
		all[name] = string(data)
	}
	return all
}

// A mistake that many cues or many dots depend on is one message.
func TestOneMistakeIsOneMessage(t *testing.T) {
	for _, c := range []struct{ name, file, old, now, want string }{
		{"the press box on the field", "rig.toml", "y = -36", "y = 36", "seat-on-field"},
		{"another label in the list of sets", "sets.csv", "\n3,", "\n33,", "unknown-set"},
		{"a set listed twice", "sets.csv", "\n3,", "\n2,", "duplicate-set"},
		{"another name in the roster", "roster.csv", "\nTpt 1,", "\nTptt 1,", "unknown-player"},
		{"a name twice in the roster", "roster.csv", "\nBari 1,", "\nTpt 1,", "duplicate-player"},
		{"no row of dots", "dots.csv", "\n3,Tpt 1,\"side 1, 2 outside the 40\",8 in front of the front hash", "",
			"missing-dot"},
		{"another name in a row of dots", "dots.csv", "\n3,Tpt 1,", "\n3,Tptt 1,", "unknown-player"},
		{"another set in a row of dots", "dots.csv", "\n3,Tpt 1,", "\n33,Tpt 1,", "unknown-set"},
		{"a row of dots for another player", "dots.csv", "\n3,Tpt 1,", "\n3,Bari 1,", "duplicate-dot"},
		{"no player in a row of dots", "dots.csv", "\n3,Tpt 1,", "\n3,,", "missing-cell"},
		{"the wrong side", "dots.csv", "\n3,Tpt 1,\"side 1", "\n3,Tpt 1,\"side 2", "step-size"},
		{"a role over a ceiling", "mixer.toml", "ceiling = \"6 dB\"",
			"channel = [{ channel = 1, ceiling = \"-2 dB\" }]", "level-range level-range"}, // two roles
	} {
		t.Run(c.name, func(t *testing.T) {
			all := starter(t)
			if !strings.Contains(all[c.file], c.old) {
				t.Fatalf("%s has no %q", c.file, c.old)
			}
			var p source.Problems
			if _, err := show.Load(all.with(c.file, c.old, c.now), "show.toml", show.LoadOptions{}, &p); err != nil {
				t.Fatal(err)
			}
			var codes []string
			for _, x := range p.All() {
				codes = append(codes, x.Code)
				t.Logf("%s %s; %s [%s]", x.Span.Where(), x.What, x.Do, x.Code)
			}
			if got := strings.Join(codes, " "); got != c.want {
				t.Errorf("%s, want %s", got, c.want)
			}
		})
	}
}
