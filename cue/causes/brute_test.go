package causes_test

import (
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/causes"
	"backfield/cue/compile"
	"backfield/cue/edits"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
)

// files are the files of a show, by path.
type files map[string]string

func (f files) Read(path string) ([]byte, error) {
	if text, ok := f[path]; ok {
		return []byte(text), nil
	}
	return nil, fs.ErrNotExist
}

// filesOf reads a folder.
func filesOf(t testing.TB, dir string) files {
	t.Helper()
	f := files{}
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		if e.Type().IsRegular() {
			data, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			f[e.Name()] = string(data)
		}
	}
	return f
}

// with is the files with one text replaced, which must be there once at least.
func (f files) with(t testing.TB, name, old, new string) files {
	t.Helper()
	if !strings.Contains(f[name], old) {
		t.Fatalf("%s does not have %q", name, old)
	}
	g := files{}
	for n, text := range f {
		g[n] = text
	}
	g[name] = strings.Replace(f[name], old, new, 1)
	return g
}

// compiled is a show, nil if it has errors.
func compiled(f files, memo *work.Memo) *show.Loaded {
	var p source.Problems
	s, err := show.Load(f, "show.toml", show.LoadOptions{Memo: memo}, &p)
	if err != nil || s.Show == nil {
		return nil
	}
	return s
}

// whyNot lists why a show does not compile.
func whyNot(f files) string {
	var p source.Problems
	show.Load(f, "show.toml", show.LoadOptions{}, &p)
	var text strings.Builder
	for _, x := range p.All() {
		if x.Severity == source.Error {
			fmt.Fprintf(&text, "%v: %s %s\n", x.Span, x.What, x.Do)
		}
	}
	return text.String()
}

func version(s *show.Loaded) causes.ShowVersion {
	return causes.ShowVersion{Files: &s.Input.Files, Show: s.Show}
}

func find(old, new *show.Loaded, memo *work.Memo) (r *causes.CauseReport, compiles int) {
	return causes.Find(version(old), version(new), func(f *timeline.Files, _ float64) *cue.Show {
		compiles++
		var p source.Problems
		return compile.Compile(compile.Input{Files: *f, Memo: memo}, &p).Show
	}), compiles
}

// between compares two versions that must compile.
func between(t *testing.T, old, new files) *causes.CauseReport {
	t.Helper()
	var memo work.Memo
	a, b := compiled(old, &memo), compiled(new, &memo)
	if a == nil || b == nil {
		t.Fatal("a version has errors")
	}
	r, _ := find(a, b, &memo)
	return r
}

// change is a random edit of a show's text. It gives the subject of the cause, "" where it could not be made.
type change func(r *rand.Rand, f files) (of string)

// line replaces what a pattern's group finds in a random line of a file.
func line(name, pattern string, of func(m []string) string, to func(r *rand.Rand, v float64) float64) change {
	re := regexp.MustCompile(pattern)
	return func(r *rand.Rand, f files) string {
		all := re.FindAllStringSubmatchIndex(f[name], -1)
		if len(all) == 0 {
			return ""
		}
		at := all[r.IntN(len(all))]
		m := re.FindStringSubmatch(f[name][at[0]:at[1]])
		last := len(at) - 2
		v, _ := strconv.ParseFloat(f[name][at[last]:at[last+1]], 64)
		new := strconv.FormatFloat(to(r, v), 'f', -1, 64)
		f[name] = f[name][:at[last]] + new + f[name][at[last+1]:]
		return of(m)
	}
}

func by(step, least float64) func(r *rand.Rand, v float64) float64 {
	return func(r *rand.Rand, v float64) float64 {
		to := v + step*float64(1+r.IntN(4))*float64(1-2*r.IntN(2))
		if to < least {
			return v + step
		}
		return to
	}
}

func always(of string) func([]string) string { return func([]string) string { return of } }

// swapped replaces one text with another.
func swapped(name, of, old, new string) change {
	return func(_ *rand.Rand, f files) string {
		if !strings.Contains(f[name], old) || strings.Contains(f[name], new) {
			return ""
		}
		f[name] = strings.Replace(f[name], old, new, 1)
		return of
	}
}

// cueBlocks cuts a score at its cues: the head, and the text of each.
func cueBlocks(text string) (head string, cues []string) {
	parts := strings.Split(text, "[[cue]]\n")
	return parts[0], parts[1:]
}

var (
	cueID  = regexp.MustCompile(`(?m)^id *= *"([^"]*)"`)
	opened = regexp.MustCompile(`(?m)^open\.(\w+) *= *\[(.*)\]`)
)

// inCue changes the text of a random cue.
func inCue(do func(r *rand.Rand, text string) string) change {
	return func(r *rand.Rand, f files) string {
		head, cues := cueBlocks(f["show.toml"])
		i := r.IntN(len(cues))
		id := cueID.FindStringSubmatch(cues[i])[1]
		new := do(r, cues[i])
		if new == cues[i] {
			return ""
		}
		cues[i] = new
		f["show.toml"] = head
		for _, c := range cues {
			f["show.toml"] += "[[cue]]\n" + c
		}
		return "cue " + id
	}
}

var changes = []change{
	line("dots.csv", `(?m)^(\w+),([^,]+),[^,\n]*,(\d+)(?: behind| in front)`, func(m []string) string { return m[2] }, by(1, 0)),
	line("dots.csv", `(?m)^(\w+),([^,]+),S\d (\d+) outside`, func(m []string) string { return m[2] }, by(1, 0)),
	line("show.toml", `(?m)^(support|feature|glue) *= *(-?\d+)`, func(m []string) string { return "role " + m[1] }, by(1, -60)),
	line("show.toml", `bpm = (\d+)`, always("movement 1"), by(8, 60)),
	line("show.toml", `(?m)^tempo = (\d+)`, always("movement 2"), by(8, 60)),
	line("show.toml", `(?m)^wait *= *(\d+)`, always("movement 2"), by(1, 0)),
	line("sets.csv", `(?m)^[235],\d,(\d+),`, always("sets"), by(4, 12)),
	line("rig.toml", `(?m)^air *= *"(\d+) C"`, always("air"), by(3, -10)),
	line("rig.toml", `(?m)^latency *= *"(\d+) ms"`, always("latency"), by(1, 0)),
	line("rig.toml", `(?m)^name *= *"(left|right)"\nat *= *\{ x = (-?\d+)`,
		func(m []string) string { return fmt.Sprintf("stack %q", m[1]) }, by(1, -30)),
	line("rig.toml", `(?m)^z = "(\d+) ft"`, always("reference seat"), by(5, 20)),
	line("roster.csv", `(?m)^(Horn 2),horn,P2,2,,(1\.\d+)`, func(m []string) string { return m[1] }, by(0.1, 1)),
	line("roster.csv", `(?m)^(Bass 1),bass,P3,3,,,(-?\d+)`, func(m []string) string { return m[1] }, by(1, -20)),
	line("mixer.toml", `(?m)^min *= *(-?\d+)`, always("mixer"), by(5, -100)),
	line("rig.toml", `on 50; (\d) in front`, always("mic grass"), by(1, 1)),
	line("rig.toml", `(?m)^channel *= *(\d+)`, always("mic grass"), by(1, 5)),
	line("mixer.toml", `(?m)^max *= *(\d+)`, always("mixer"), by(100, 50)),
	line("show.toml", `at = (\d+), bpm = 144`, always("movement 1"), by(2, 9)),
	line("show.toml", `bpm = 144, over = (\d+)`, always("movement 1"), by(2, 2)),
	line("show.toml", `"Horn 1" = ([\d.]+)`, always("cue 2"), by(1, 0)),
	line("show.toml", `"1 ms", "(\d+) ms"`, always("cue 4"), by(3, 6)),
	swapped("mixer.toml", "mixer", "channels = 16\n", "channels = 16\npan_law = \"linear\"\n"),
	swapped("mixer.toml", "mixer", "max     = 500", "max     = 500\nmoves = \"glide\""),
	swapped("show.toml", "show.toml", "[mix]", "[delay]\npolicy = \"least-error\"\nlead = 4\n\n[mix]"),
	swapped("show.toml", "show.toml", "[mix]", "[pan]\nwidth = 0.7\n\n[mix]"),
	swapped("show.toml", "show.toml", "glue = [\"grass\"]", "support = [\"grass\"]"),
	swapped("show.toml", "role support", "support = -9", "support = { level = -9, policy = \"reference\" }"),
	swapped("show.toml", "role feature", "feature = 0", "feature = { level = 0, box = [\"0 ms\", \"8 ms\"] }"),
	swapped("rig.toml", "latency", `latency = "4 ms"`, `latency = { worn = "4 ms", wired = "2 ms" }`),
	inCue(func(r *rand.Rand, text string) string { // who is open
		m := opened.FindStringSubmatchIndex(text)
		if m == nil {
			return text
		}
		who := []string{`"Horn 1"`, `"Horn 2"`, `"Bass 1"`, `"@horn"`}[r.IntN(4)]
		if names := text[m[4]:m[5]]; names != who && !strings.Contains(text, who) {
			return text[:m[4]] + who + text[m[5]:]
		}
		return text
	}),
	inCue(func(r *rand.Rand, text string) string { return text + fmt.Sprintf("fade_out = %d\n", 1+r.IntN(6)) }),
	inCue(func(r *rand.Rand, text string) string {
		if strings.Contains(text, "nudge") {
			return text
		}
		return text + fmt.Sprintf("nudge = { \"Bass 1\" = %d }\n", 1+r.IntN(5))
	}),
	inCue(func(r *rand.Rand, text string) string {
		return strings.Replace(text, `"set 3"`, fmt.Sprintf(`"set 3 - %d"`, 1+r.IntN(6)), 1)
	}),
	inCue(func(r *rand.Rand, text string) string { return text + "policy = \"never-early\"\n" }),
	inCue(func(r *rand.Rand, text string) string {
		return strings.Replace(text, `name         = "`, `name         = "new `, 1)
	}),
	func(r *rand.Rand, f files) string { // a cue goes
		head, cues := cueBlocks(f["show.toml"])
		i := r.IntN(len(cues))
		id := cueID.FindStringSubmatch(cues[i])[1]
		f["show.toml"] = head
		for _, c := range slices.Delete(cues, i, i+1) {
			f["show.toml"] += "[[cue]]\n" + c
		}
		return "cue " + id
	},
	func(r *rand.Rand, f files) string { // a cue comes
		if strings.Contains(f["show.toml"], `"9"`) {
			return ""
		}
		f["show.toml"] += "\n[[cue]]\nid = \"9\"\nat = \"1:" + strconv.Itoa(3+r.IntN(12)) +
			"\"\nopen.feature = [\"Bass 1\"]\n"
		return "cue 9"
	},
	func(r *rand.Rand, f files) string { // a cue gets another id
		if strings.Contains(f["show.toml"], `"3B"`) || !strings.Contains(f["show.toml"], `id    = "3"`) {
			return ""
		}
		f["show.toml"] = strings.Replace(f["show.toml"], `id    = "3"`, `id    = "3B"`, 1)
		return "cue 3"
	},
}

// differ lists the cues and channels of which anything that is sent differs, and the cues (channel 0) that differ
// themselves. It knows nothing of the package. Paths are compared as they are sounded, every quarter count.
func differ(old, new *cue.Show) (list []string) {
	add := func(id string, channel int) { list = append(list, fmt.Sprintf("cue %s channel %d", id, channel)) }
	for i := range old.Cues {
		if _, ok := new.Find(old.Cues[i].ID); !ok {
			add(old.Cues[i].ID, 0)
		}
	}
	for i := range new.Cues {
		b := &new.Cues[i]
		a, ok := old.Find(b.ID)
		if !ok {
			add(b.ID, 0)
			continue
		}
		if math.Abs(a.TimeS-b.TimeS) >= 0.05 || a.Count != b.Count || a.Movement != b.Movement ||
			a.FadeS != b.FadeS || a.Closing() != b.Closing() || len(a.Also) != len(b.Also) {
			add(b.ID, 0)
		}
		for j := range b.Channels {
			y := &b.Channels[j]
			k := slices.IndexFunc(a.Channels, func(c cue.Channel) bool { return c.Channel == y.Channel })
			if k < 0 {
				continue
			}
			x := &a.Channels[k]
			if x.Open != y.Open || x.LevelDB != y.LevelDB || x.Pan != y.Pan || x.DelayMS != y.DelayMS ||
				x.Player != y.Player || !samePath(a, b, x, y, old.Rig.Delay.Moves) ||
				!slices.Equal(x.Sends, y.Sends) || !slices.Equal(x.Params, y.Params) {
				add(b.ID, y.Channel)
			}
		}
	}
	return list
}

// samePath reports whether the paths of a channel are the same every quarter count, as long as both go on.
func samePath(a, b *cue.Snapshot, x, y *cue.Channel, moves cue.Moves) bool {
	if !x.Open || !y.Open || len(x.Glide) == 0 || len(y.Glide) == 0 || a.Movement != b.Movement {
		return true
	}
	p, q := x.Glide[len(x.Glide)-1], y.Glide[len(y.Glide)-1]
	for at := max(a.Count, b.Count); at <= min(p.Count, q.Count); at += 0.25 {
		g, h := a.GlideAtCount(x, a.Movement, at, moves), b.GlideAtCount(y, b.Movement, at, moves)
		if math.Abs(g.DelayMS-h.DelayMS) > 1e-5 || math.Abs(g.Pan-h.Pan) > 1e-5 {
			return false
		}
	}
	return true
}

// Each difference is of a cause or of the rest that no single edit makes, and each cause was really edited.
func TestRandomEdits(t *testing.T) {
	t.Parallel()
	rounds := 150
	if testing.Short() {
		rounds = 40
	}
	kinds := randomEdits(t, "../../testdata/script/show", changes, rounds, 6)
	for _, k := range []string{"role", "movement", "cue", "sets", "air", "latency", "stack", "reference", "player"} {
		if kinds[k] == 0 {
			t.Errorf("no %s was blamed in any round", k)
		}
	}
}

// The same in the demo: many dots, a role, and a fade in each of 30 cues, which are more than are tried one by one.
func TestRandomEditsOfDemo(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("it compiles the demo")
	}
	fades := func(r *rand.Rand, f files) string {
		head, cues := cueBlocks(f["show.toml"])
		i := r.IntN(len(cues))
		if strings.Contains(cues[i], "fade_out") {
			return ""
		}
		cues[i] = strings.Replace(cues[i], "\n", "\nfade_out = 3\n", 1)
		f["show.toml"] = head + "[[cue]]\n" + strings.Join(cues, "[[cue]]\n")
		return "cue " + cueID.FindStringSubmatch(cues[i])[1]
	}
	list := append(slices.Clone(changes[:3]), fades, fades, fades, fades)
	randomEdits(t, demo, list, 3, 60)
}

// randomEdits makes rounds of random edits and checks the report of each. It returns how often each kind was blamed.
func randomEdits(t *testing.T, dir string, list []change, rounds, atMost int) map[string]int {
	base := filesOf(t, dir)
	r := rand.New(rand.NewPCG(20261201, 18))
	var memo work.Memo
	old := compiled(base, &memo)
	tried, rests, most := 0, 0, 0
	kinds := map[string]int{}
	for round := range rounds {
		next := files{}
		for name, text := range base {
			next[name] = text
		}
		edited := map[string]bool{}
		for range 1 + r.IntN(atMost) {
			if of := list[r.IntN(len(list))](r, next); of != "" {
				edited[of] = true
			}
		}
		new := compiled(next, &memo)
		if new == nil {
			continue // edits that make no show
		}
		tried++
		report, compiles := find(old, new, &memo)
		most = max(most, compiles)
		text := strings.Join(report.Lines(), "\n")
		fail := func(format string, args ...any) {
			t.Errorf("round %d, edited %v: %s\n%s", round, edited, fmt.Sprintf(format, args...), text)
		}

		// Taken back all at once, the edits leave the old show.
		var p source.Problems
		back := compile.Compile(compile.Input{Files: *edits.Undo(&new.Input.Files,
			edits.Find(&old.Input.Files, &new.Input.Files))}, &p).Show
		if back == nil {
			fail("without the edits it does not compile: %v", p.All())
			continue
		}
		had, _ := old.Show.Encode()
		if has, _ := back.Encode(); string(has) != string(had) && !renumbered(report) {
			fail("without the edits it is not the old show")
		}

		covered := map[string]bool{}
		for _, c := range report.Causes {
			of, _, _ := strings.Cut(c.Edit, ": ")
			for _, e := range c.Of() {
				kinds[kind(e)]++
				if !edited[e] && !(edited["cue 3"] && e == "cue 3B") {
					fail("%s was not edited (%s)", e, of)
				}
			}
			for _, place := range c.Places() {
				covered[place] = true
			}
		}
		if report.Rest != nil {
			rests++
			for _, place := range report.Rest.Places() {
				covered[place] = true
			}
			if strings.Contains(text, "not known") {
				fail("a cause is not known")
			}
		}
		was := renamedTo(old.Show, report)
		for _, place := range differ(was, new.Show) {
			if !covered[place] {
				fail("%s differs, and no line says so", place)
			}
		}
		if (text == "") != (len(differ(was, new.Show)) == 0 && !renumbered(report)) && text == "" {
			fail("nothing is said")
		}
	}
	t.Logf("%d rounds, %d with a rest, at most %d compiles, causes %v", tried, rests, most, kinds)
	if tried < rounds/3 {
		t.Errorf("only %d of %d rounds made a show", tried, rounds)
	}
	if rests > tried/10 {
		t.Errorf("%d of %d rounds have changes that no edit makes alone", rests, tried)
	}
	return kinds
}

func kind(of string) string {
	word, _, _ := strings.Cut(of, " ")
	if regexp.MustCompile(`^[A-Z]`).MatchString(of) {
		return "player"
	}
	return word
}

func renumbered(r *causes.CauseReport) bool {
	return slices.ContainsFunc(r.Causes, func(c causes.EditCause) bool { return c.Changes == "renumbered" })
}

// renamedTo is the old show with the new id of cue 3, if it has one.
func renamedTo(s *cue.Show, r *causes.CauseReport) *cue.Show {
	if !renumbered(r) {
		return s
	}
	c := *s
	c.Cues = slices.Clone(s.Cues)
	for i := range c.Cues {
		if c.Cues[i].ID == "3" {
			c.Cues[i].ID = "3B"
		}
	}
	return &c
}
