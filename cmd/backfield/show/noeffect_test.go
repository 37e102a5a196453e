package show_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/noeffect"
	"backfield/cue/score"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/mixer"
)

// idleIn is what of a show has no effect, with the file and line of each, and all that the show comes to: its warnings
// and every number of every cue.
func idleIn(t *testing.T, f files) (list []source.Idle, numbers string) {
	t.Helper()
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{Levels: true}, &p)
	if err != nil {
		t.Fatal(err)
	}
	if s.Show == nil {
		var b strings.Builder
		source.Print(&b, p.All())
		t.Fatal(b.String())
	}
	text, err := json.Marshal(s.Show.Cues)
	if err != nil {
		t.Fatal(err)
	}
	all := fmt.Sprintln(string(text), s.Remarks, s.Attention)
	for _, x := range p.All() {
		all += x.Code + x.What
	}
	return s.Idle, all
}

// idleWords are those lines, without columns.
func idleWords(list []source.Idle) []string {
	words := []string{}
	for _, x := range list {
		words = append(words, x.Span.File.Name+" "+x.What)
	}
	return words
}

// measuredEvery is the show of these tests with instruments that are known and readings, so that every check is made.
func measuredEvery() files { return measured() }

// TestNoEffect makes keys that change nothing, and keys beside them that do. The show without the lines of those that
// change nothing comes to the same, to the byte.
func TestNoEffect(t *testing.T) {
	t.Parallel()
	base := measuredEvery()
	list, all := idleIn(t, base)
	before := idleWords(list)
	for _, x := range list {
		if _, now := idleIn(t, without(base, []source.Idle{x})); now != all {
			t.Errorf("the show without this line is another: %s", x.What)
		}
	}
	if got := strings.Join(before, "\n"); got != noEffectBefore {
		t.Errorf("without effect are\n%s\nwant\n%s", got, noEffectBefore)
	}
	for _, c := range noEffectCases {
		f := base
		for i := 0; i < len(c.edits); i += 3 {
			if !strings.Contains(f[c.edits[i]], c.edits[i+1]) {
				t.Fatalf("%s has no %q", c.edits[i], c.edits[i+1])
			}
			f = f.with(c.edits[i], c.edits[i+1], c.edits[i+2])
		}
		list, numbers := idleIn(t, f)
		got := slices.DeleteFunc(idleWords(list), func(w string) bool { return slices.Contains(before, w) })
		if !slices.Equal(got, c.want) {
			t.Errorf("%q: without effect are\n%s\nwant\n%s", c.edits, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
		}
		if _, now := idleIn(t, without(f, list)); now != numbers {
			t.Errorf("%q: the show without these lines is another:\n%s", c.edits, strings.Join(got, "\n"))
		}
	}
}

// without is the show without the lines that what has no effect begins. They stay empty, so that no place changes. What
// is a part of its line stays.
func without(f files, list []source.Idle) files {
	less := maps.Clone(f)
	for _, x := range slices.Backward(list) {
		name, text := x.Span.File.Name, x.Span.File.Text
		begin, end := x.Span.Start, x.Span.Start+strings.IndexByte(text[x.Span.Start:]+"\n", '\n')
		if line := text[begin:end]; strings.HasSuffix(text[:begin], "\n") && strings.Contains(line, "=") {
			less[name] = less[name][:begin] + less[name][end:] // what is behind was changed before
		}
	}
	return less
}

// noEffectBefore is what has no effect in the show of these tests.
const noEffectBefore = `show.toml zones.most: the rig feeds its stacks in stereo
show.toml check.handover: no pack changes hands
show.toml check.held: the delay of this mixer glides, and is never held
rig.toml air: the venue goes first (venue.toml)
rig.toml stack.zone: the rig feeds its stacks in stereo
mixer.toml send: the rig feeds its stacks in stereo`

// noEffectCases are edits of the show (file, old text, new text), and what then has no effect beside what had none.
var noEffectCases = []struct {
	edits []string
	want  []string
}{
	{[]string{"show.toml", "[delay]", "solo = 3\n[balance]\nsolo = 6\nfeature = 2\n[delay]"}, []string{
		`show.toml mix.solo: no cue opens a mic as "solo"`, `show.toml balance.solo: no cue opens a mic as "solo"`}},
	{[]string{"show.toml", "always.support = [", "always.bed = []\nalways.support = ["},
		[]string{"show.toml always.bed: it names nobody"}},
	{[]string{"show.toml", "[check]\n",
		"[check]\nallow = [\"cues-close\", \"level-range\"]\nloud = [\"tuba\", \"snare\"]\n"},
		[]string{`show.toml check.allow: "cues-close": the show has no such warning`,
			`show.toml check.loud: "snare": the roster has no such section`}},
	{[]string{"show.toml", "keep = true\n", "keep = true\nallow = [\"delay-max\"]\nbox = [1, 2]\nopen_early = 1\n"},
		[]string{`show.toml cue 2: allow: "delay-max": this cue has no such warning`,
			"show.toml cue 2: open_early: this cue opens no mic that was closed"}},
	{[]string{"show.toml", `policy = "most-seats"`, `policy = "least-error"`, "show.toml",
		"keep = true\npolicy = \"joint\"", "", "show.toml", "policy = \"joint\"\n", ""}, []string{
		"show.toml delay.box: no open mic goes by it (the policy of none asks for a bound, or a cue's bound or a role's " +
			"comes first)",
		"show.toml pan.angle: no open mic has the policy joint"}},
	{[]string{"show.toml", `"least-error", air = 2`, `"reference", air = 2`, "show.toml", "always.support = [",
		"always.bed = [\"field mic\"]\nalways.support = [", "show.toml", `["field mic", "pit mic", "synth"]`,
		`["pit mic", "synth"]`}, nil},
	{[]string{"show.toml", "id = \"4\"\n", "id = \"4\"\nkeep = true\n",
		"show.toml", "id = \"5\"\n", "id = \"5\"\nkeep = true\n",
		"show.toml", "id = \"3\"\n", "id = \"3\"\npolicy = \"reference\"\n", "show.toml", "close = [\"field mic\"]\n",
		"open.bed = [\"C\"]\n"}, []string{
		"show.toml cue 4: keep: nothing is open before this cue that it would close",
		"show.toml cue 5: open_early: this cue opens no mic that was closed"}},
	{[]string{"show.toml", "{ at = 5, bpm = 140, over = 4 }", "{ at = 5, bpm = 120 }"},
		[]string{"show.toml movement one: tempo 2: the tempo is 120 already"}},
	{[]string{"show.toml", "[[movement]]\nname",
		"[instruments.kazoo]\npower = 90\nspectrum = [0, 0, 0, 0, 0, 0, 0]\n[[movement]]\nname"},
		[]string{"show.toml instruments.kazoo: nobody in the roster plays it"}},
	{[]string{"show.toml", "from = 20", "from = 400"}, []string{"show.toml make_up: it lifts no open mic"}},
	{[]string{"show.toml", "{ A = -1.5 }", "{ A = -1.5 , \"@tuba\" = -2 }"},
		[]string{"show.toml cue 1: nudge.@tuba: this cue has none of them open"}},
	{[]string{"mixer.toml", `moves = "glide"`, `moves = "closed"`},
		[]string{"show.toml delay.slew: the delay of this mixer does not glide (moves in mixer.toml)"}},
	{[]string{"mixer.toml", "ceiling = 3.5 }", "ceiling = 3.5 }, { channel = 31, ceiling = 1 }"},
		[]string{"mixer.toml safety.channel 2: the show has nothing on channel 31"}},
	{[]string{"rig.toml", `feed = "stereo"`, `feed = "zones"`}, []string{
		"rig.toml stack.left: the rig feeds its stacks by zones", "rig.toml stack.right: the rig feeds its stacks by zones"}},
	{[]string{"rig.toml", "sub = true", "sub = true\ntrim = -2\ndelay = 4"}, []string{
		"rig.toml stack.trim: a sub is only drawn and listed", "rig.toml stack.delay: a sub is only drawn and listed"}},
	{[]string{"rig.toml", `kind = "line"`, "kind = \"line\"\npattern = \"omni\""},
		[]string{"rig.toml mic.pattern: a line hears nothing"}},
	{[]string{"rig.toml", "weight = 1.5", "weight = 0"}, []string{"rig.toml stands low: its seats have the weight 0"}},
	{[]string{"venue.toml", "air = 21", "air = 18"}, []string{
		"show.toml mix.bed.box: no open mic goes by it (the policy of none asks for a bound, or a cue's bound or a role's " +
			"comes first)",
		"venue.toml air: the rig says the same (rig.toml:4:1)"}},
	{[]string{"roster.csv", ",1.8,,,", ",1.8,,,\nD,tuba,,,,,,,"},
		[]string{"roster.csv the row of D, who has neither dots nor a pack"}},
}

// Every key of every file has a rule, or a reason why it needs none.
func TestEveryKeyMayBeIdle(t *testing.T) {
	ruled := noeffect.Ruled()
	own := []string{}
	for _, key := range mixer.OwnKeys() {
		own = append(own, "param.*."+key)
	}
	var all []string
	for file, keys := range map[string][]string{
		"show.toml": table.Keys(score.ScoreFile{}), "rig.toml": table.Keys(rig.RigFile{}),
		"mixer.toml": slices.Concat(mixer.Keys(), own),
	} {
		for _, key := range keys {
			all = append(all, file+" "+key)
		}
	}
	plain := func(rule string) string { return strings.ReplaceAll(rule, "[]", "") }
	for _, key := range all {
		has := slices.ContainsFunc(ruled, func(r string) bool { return plain(r) == key })
		if reason := why(effective, key); has == (reason != "") {
			t.Errorf("%s: a rule: %v, a reason for having none: %q", key, has, reason)
		}
	}
}

// effective are the keys without a rule.
var effective = reasons{
	{`show.toml (title|movement\.name|cue\.(id|name))`, "a name, which is printed"},
	{`show.toml (drill|drill\.(sets|dots)|roster|rig|mixer|venue)`, "a file, which is read"},
	{`show.toml drill\.columns(\..*)?`, "a column that a sheet does not have is an error"},
	{`show.toml drill\.words`, "package layout/drill lists those that no dot has"},
	{`show.toml (mix|always|delay|pan|zones|check|balance|instruments|movement|cue|cue\.(open|nudge|param))`,
		"a table of others"},
	{`show.toml music(\.parts)?`, "a part that is in no music is reported; the lanes are made of those that are"},
	{`show.toml make_up\.(from|max)`, "in the rule of make_up"},
	{`show.toml delay\.dip`, "where the delay glides there is a warning (dip-unused)"},
	{`show.toml (delay\.knot|pan\.(width|by|knot))`, "every path goes by it; pan.by with zones is a warning"},
	{`show.toml check\.(near_stack|most_open|settle|press|best|lead)`, "a limit to which every cue is held"},
	{`show.toml balance\.(share|over|margin|day)`, "what balance proposes goes by it"},
	{`show.toml movement\.(counts|wait)`, "the sets are held to it; a wait is time"},
	{`show.toml cue\.(at|after)`, "when the cue goes"},
	{`show.toml cue\.(fade|fade_out)`, "also for a cue that is reached by a jump, whatever is open then"},
	{`show.toml cue\.also(\..*)?`, "it is sent"},
	{`show.toml cue\.(dynamics|plays|rests|facing)`, "who plays; there is a warning about dynamics of one who rests"},
	{`rig.toml (name|(stands|stack|mic|people)\.name)`, "a name, which is printed"},
	{`rig.toml (field|grid|omit|latency|air|feed|reference|seats|stack|mic|people|humidity|bell_up)`,
		"every number goes by it"},
	{`rig.toml reference\.[xyz]`, "the press box is there in any show"},
	{`rig.toml stands\..*`, "in the rule of stands; seats or spacing, not both"},
	{`rig.toml ((stack|mic|people)\.(at|height)|stack\.sub|mic\.(kind|channel|trim|delay))`,
		"where it is and how loud; two heights are an error"},
	{`rig.toml mic\.(pan|low_cut)`, "pan with zones is a warning; a low cut is the mixer's too"},
	{`rig.toml levels(\..*)?`, "a reading that is not used is a warning (level-unused)"},
	{`mixer.toml (to|rate|channels|pan_law|bundle|max_packet|also|tick|repeat|manual|safety|send\..*)`,
		"how messages are sent; and in rules"},
	{`mixer.toml safety\.(rise|ramp|ceiling|channel\..*)`, "what holds every level"},
	{`mixer.toml (mute|level|pan|delay|param|echo|query|keepalive|store|recall)(\..*)?`,
		"what is sent, and how; a scale or a limit for nothing is an error"},
}
