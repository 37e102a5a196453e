package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/help"
	"backfield/cmd/backfield/mixerverbs"
	"backfield/cmd/backfield/musicverbs"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/simulated"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/rules"
	"backfield/cue/score"
	"backfield/cue/suggest"
	"backfield/cue/tonight"
	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/stands"
	fields "backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/presses"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

func helpPage(t *testing.T, topic string) string {
	t.Helper()
	text, err := help.Page(topic)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

var codeSpan = regexp.MustCompile("`([^`\n]+)`")

// spans returns what stands in single backquotes, outside of blocks.
func spans(text string) map[string]bool {
	found := map[string]bool{}
	inBlock := false
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "```") {
			inBlock = !inBlock
		}
		if inBlock {
			continue
		}
		for _, m := range codeSpan.FindAllStringSubmatch(line, -1) {
			found[m[1]] = true
		}
	}
	return found
}

// section returns the part of a page under the heading that names the table: ## `[[cue]]`: who is open
func section(text, table string) string {
	for _, part := range strings.Split(text, "\n## ")[1:] {
		head, _, _ := strings.Cut(part, "\n")
		if strings.Contains(head, "["+table+"]") {
			return part
		}
	}
	return ""
}

// blocks returns the fenced blocks of one language.
func blocks(text, language string) []string {
	var list []string
	for _, part := range strings.Split(text, "\n```"+language+"\n")[1:] {
		block, _, _ := strings.Cut(part, "\n```")
		list = append(list, block+"\n")
	}
	return list
}

// Every key that a TOML file takes is on its page: as `table.key` anywhere, or as `key` in the table's section.
func TestHelpHasEveryKey(t *testing.T) {
	t.Parallel()
	for _, file := range []struct {
		topic string
		keys  []string
		deep  []string // keys of values that read themselves, which table.Keys does not see
	}{
		{"score", fields.Keys(score.ScoreFile{}), []string{"mix.level", "movement.at", "movement.bpm", "movement.over",
			"movement.pause", "movement.music", "movement.beat", "movement.from", "movement.to",
			"movement.first", "movement.pauses", "cue.open.feature"}},
		{"rig", fields.Keys(rig.RigFile{}), []string{"field.length", "field.width", "field.hash", "field.end_zone",
			"field.middle",
			"stack.at.x", "stack.at.y", "stack.at.z", "mic.at.x", "mic.at.y", "mic.at.z"}},
		{"mixer", mixer.Keys(), mixer.OwnKeys()},
	} {
		text := helpPage(t, file.topic)
		if len(file.keys) < 10 {
			t.Errorf("%s: only %d keys are known", file.topic, len(file.keys))
		}
		all := spans(text)
		for _, key := range append(file.keys, file.deep...) {
			table, rest, nested := strings.Cut(key, ".")
			last := key[strings.LastIndexByte(key, '.')+1:]
			switch {
			case last == "*": // names of the user's own
			case all[key] || all["["+key+"]"] || all["[["+key+"]]"]:
			case nested && spans(section(text, table))[rest]:
			case nested && file.topic == "mixer" && (all[last] || inExamples(text, last)): // its tables share their keys
			case nested && rest == "open.feature" && strings.Contains(section(text, table), "open.feature"):
			default:
				t.Errorf("%s.md does not have %q", file.topic, key)
			}
		}
	}
}

// inExamples reports whether a key is shown in a TOML block.
func inExamples(text, key string) bool {
	return regexp.MustCompile(`\b` + key + `\s*=`).MatchString(strings.Join(blocks(text, "toml"), ""))
}

// Every column of a sheet is on its page, and so is every column and field that compile writes.
func TestHelpHasEveryColumn(t *testing.T) {
	t.Parallel()
	for topic, columns := range map[string][]fields.Column{
		"drill": slices.Concat(drill.SetColumns, drill.DotColumns), "roster": roster.Columns, "stands": stands.Columns,
	} {
		all := spans(helpPage(t, topic))
		for _, c := range columns {
			if !all[c.Name] {
				t.Errorf("%s.md does not have the column %q", topic, c.Name)
			}
		}
	}
	zones := []cue.Send{{Zone: 1}, {Zone: 2}}
	table := compiled.CSV(&cue.Show{Cues: []cue.Snapshot{{Channels: []cue.Channel{{Sends: zones}}}}})
	head, _, _ := strings.Cut(string(table), "\n")
	names := append(strings.Split(head, ","), jsonNames(reflect.TypeFor[cue.Show]())...)
	all := spans(helpPage(t, "snapshots"))
	for _, name := range names {
		if !all[name] {
			t.Errorf("snapshots.md does not have %q", name)
		}
	}
}

// jsonNames lists the names of a type's fields in JSON, inner ones too.
func jsonNames(typ reflect.Type) []string {
	var names []string
	for typ.Kind() == reflect.Slice {
		typ = typ.Elem()
	}
	if typ.Kind() != reflect.Struct {
		return nil
	}
	for i := range typ.NumField() {
		f := typ.Field(i)
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" {
			names = append(names, name)
		}
		names = append(names, jsonNames(f.Type)...)
	}
	return names
}

// The example of snapshots.md is what diff reads.
func TestHelpSnapshotIsRead(t *testing.T) {
	t.Parallel()
	list := blocks(helpPage(t, "snapshots"), "json")
	if len(list) == 0 {
		t.Fatal("no json block")
	}
	for _, block := range list {
		s, err := cue.Decode([]byte(block))
		if err != nil {
			t.Fatalf("%v in\n%s", err, block)
		}
		want, _ := s.Encode()
		if got := strings.Join(strings.Fields(string(want)), ""); got != strings.Join(strings.Fields(block), "") {
			t.Errorf("the example lacks a field or has one that is not written; it would be\n%s", want)
		}
	}
}

// Every TOML example is read by the real reader. The first of a page is whole; the others are parts of a file.
func TestHelpExamplesAreRead(t *testing.T) {
	t.Parallel()
	for topic, read := range map[string]func(*source.File, *source.Problems){
		"score": func(f *source.File, p *source.Problems) { score.Read(f, p) },
		"rig":   func(f *source.File, p *source.Problems) { rig.Read(f, nil, p) },
	} {
		list := blocks(helpPage(t, topic), "toml")
		if len(list) < 5 {
			t.Errorf("%s.md: only %d examples", topic, len(list))
		}
		for i, block := range list {
			f, err := source.Open(fmt.Sprintf("%s.md, example %d", topic, i+1), []byte(block), fields.TOMLLimit)
			if err != nil {
				t.Fatal(err)
			}
			var p source.Problems
			read(f, &p)
			for _, x := range p.All() {
				if i == 0 || !slices.Contains(ofParts, x.Code) {
					t.Errorf("%s: %s: %s [%s]", x.Span.Where(), x.Severity, x.What, x.Code)
				}
			}
		}
	}
}

// ofParts are the codes of what is wrong with a part of a file only because it is not the whole.
var ofParts = []string{"missing-key", "no-reference", "no-stack", "no-air", "unknown-name"}

// Every TOML example of the pages that are about no one file says in its first line which it is a part of, and
// is read by that file's reader.
func TestHelpMixedExamplesAreRead(t *testing.T) {
	t.Parallel()
	files := []string{"score", "rig", "mixer"} // pages with tests of their own
	count := 0
	for _, topic := range help.Topics() {
		if slices.Contains(files, topic) {
			continue
		}
		for i, block := range blocks(helpPage(t, topic), "toml") {
			count++
			f, err := source.Open(fmt.Sprintf("%s.md, example %d", topic, i+1), []byte(block), fields.TOMLLimit)
			if err != nil {
				t.Fatal(err)
			}
			var p source.Problems
			switch first, _, _ := strings.Cut(block, "\n"); first {
			case "# show.toml":
				score.Read(f, &p)
			case "# rig.toml":
				rig.Read(f, nil, &p)
			case "# mixer.toml":
				mixer.Read(f, &p)
			case "# remote.toml":
				presses.Read(f, &p)
			case "# tonight.toml":
				tonight.Read(f, &p)
			default:
				t.Errorf("%s: its first line does not say of which file it is a part", f.Name)
			}
			for _, x := range p.All() {
				if !slices.Contains(ofParts, x.Code) && !strings.HasPrefix(x.Code, "mixer-no-") {
					t.Errorf("%s: %s: %s [%s]", x.Span.Where(), x.Severity, x.What, x.Code)
				}
			}
		}
	}
	if count < 8 {
		t.Errorf("only %d examples", count)
	}
}

// The sheets shown in stands.md and roster.md are read without a word.
func TestHelpSheetsAreRead(t *testing.T) {
	t.Parallel()
	for topic, read := range map[string]func(*source.File, *source.Problems) int{
		"stands": func(f *source.File, p *source.Problems) int { return len(stands.ReadSeats(f, p)) },
		"roster": func(f *source.File, p *source.Problems) int { return len(roster.Read(f, p).Players) },
	} {
		text := helpPage(t, topic)
		list := append(blocks(text, "csv"), bare(text, "player,")...)
		if len(list) == 0 {
			t.Errorf("%s.md shows no sheet", topic)
		}
		for _, block := range list {
			f, err := source.Open(topic+".md", []byte(block), fields.CSVLimit)
			if err != nil {
				t.Fatal(err)
			}
			var p source.Problems
			if n := read(f, &p); n != strings.Count(block, "\n")-1 {
				t.Errorf("%s.md: %d rows read of\n%s", topic, n, block)
			}
			for _, x := range p.All() {
				t.Errorf("%s: %s: %s [%s]", x.Span.Where(), x.Severity, x.What, x.Code)
			}
		}
	}
}

// simulated-mixer.md has every flag and every name of the state, and shows a state that the mixer really has.
func TestHelpHasTheSimulatedMixer(t *testing.T) {
	t.Parallel()
	all := spans(helpPage(t, "simulated-mixer"))
	flags := regexp.MustCompile(`(?m)^ +(--[a-z-]+)`).FindAllStringSubmatch(mixerverbs.Mixer().Flags().FlagUsages(), -1)
	if len(flags) < 10 {
		t.Errorf("only %d flags", len(flags))
	}
	for _, f := range flags {
		if !all[f[1]] {
			t.Errorf("simulated-mixer.md does not have %s", f[1])
		}
	}
	for _, typ := range []reflect.Type{reflect.TypeFor[virtual.MessageCounts](), reflect.TypeFor[virtual.ChannelState]()} {
		for _, name := range jsonNames(typ) {
			if !all[name] && name != "channel" && name != "zone" {
				t.Errorf("simulated-mixer.md does not have %q", name)
			}
		}
	}
	for _, name := range simulated.Commands {
		if !all[name] && !all[name+" ADDRESS VALUE"] {
			t.Errorf("simulated-mixer.md does not have the command %s", name)
		}
	}
	text := "channels = 1\n" + blocks(helpPage(t, "mixer"), "toml")[0] +
		"[send]\naddress = \"/in/{channel}/zone/{zone}\"\nscale = { table = [[-70, 0], [0, 1]] }\n" +
		"[store]\naddress = \"/scene/{slot}\"\nargs = [\"{name}\"]\nslots = 9\n"
	text = strings.Replace(text, "channels = 64\n", "", 1)
	var p source.Problems
	d := mixer.Read(&source.File{Name: "simulated-mixer.md", Text: text}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All()[0].What)
	}
	m := virtual.New(d)
	for _, x := range []osc.Message{{Address: "/in/1/mute", Args: []osc.Arg{osc.Int32(0)}},
		{Address: "/in/1/level", Args: []osc.Arg{osc.Float32(0.55)}}, {Address: "/in/1/pan",
			Args: []osc.Arg{osc.Float32(0.35)}},
		{Address: "/in/1/zone/2", Args: []osc.Arg{osc.Float32(0.5)}}, {Address: "/other/1"}, d.Store.Message(3,
			"the arc opens")} {
		m.Handle(time.Time{}, "", wire.Encode(x))
	}
	state, err := m.State().Encode()
	if err != nil {
		t.Fatal(err)
	}
	shown := blocks(helpPage(t, "simulated-mixer"), "json")[0]
	if got, want := strings.Join(strings.Fields(shown), ""), strings.Join(strings.Fields(string(state)),
		""); got != want {
		t.Errorf("simulated-mixer.md shows\n%s\nand the state is\n%s", shown, state)
	}
}

// bare returns the fenced blocks without a language that begin with a text.
func bare(text, begin string) []string {
	var list []string
	for i, part := range strings.Split(text, "```") {
		if block, ok := strings.CutPrefix(part, "\n"); ok && i%2 == 1 && strings.HasPrefix(block, begin) {
			list = append(list, block)
		}
	}
	return list
}

// checks.md has every check, and the defaults that the reader has.
func TestHelpHasEveryRule(t *testing.T) {
	t.Parallel()
	text := helpPage(t, "checks")
	listed := map[string]bool{}
	for _, m := range regexp.MustCompile("(?m)^- `([a-z-]+)`: ").FindAllStringSubmatch(text, -1) {
		if listed[m[1]] {
			t.Errorf("checks.md has %s twice", m[1])
		}
		if listed[m[1]] = true; !slices.Contains(rules.Codes(), m[1]) {
			t.Errorf("checks.md has %s, which is not a check", m[1])
		}
	}
	for _, code := range rules.Codes() {
		if !listed[code] {
			t.Errorf("checks.md does not have %s", code)
		}
	}
	d := score.DefaultRules()
	want := map[string]float64{}
	for _, x := range score.Thresholds {
		if x.Of != nil {
			want[x.Key] = x.Of(d)
		}
	}
	said := regexp.MustCompile("`check\\.([a-z_]+)`(?: [a-z ]+)?,\\s+default\\s+([0-9.]*[0-9])")
	for _, topic := range []string{"checks", "score"} {
		found := map[string]bool{}
		for _, m := range said.FindAllStringSubmatch(strings.ReplaceAll(helpPage(t, topic), "`  ", "` "), -1) {
			found[m[1]] = true
			if v, _ := strconv.ParseFloat(m[2], 64); v != want[m[1]] {
				t.Errorf("%s.md has %g for %s, the reader %g", topic, v, m[1], want[m[1]])
			}
		}
		for key := range want {
			if !found[key] {
				t.Errorf("%s.md does not have the default of %s", topic, key)
			}
		}
	}
	all := spans(text)
	for _, section := range d.Loud {
		if !all[section] {
			t.Errorf("checks.md does not have the loud section %s", section)
		}
	}
	for _, key := range fields.Keys(score.ScoreFile{}) {
		if rest, ok := strings.CutPrefix(key, "check."); ok && rest != "allow" && !all[key] {
			t.Errorf("checks.md does not have %s", key)
		}
	}
}

// stands.md has every policy, in the words that it is declared with.
func TestHelpHasEveryPolicy(t *testing.T) {
	t.Parallel()
	for _, p := range stands.Policies {
		if row := fmt.Sprintf("\n| `%s` | %s |\n", p.Name, p.Words()); !strings.Contains(helpPage(t, "stands"), row) {
			t.Errorf("stands.md does not have the row%s", row)
		}
	}
}

// What the pages quote of the demo is what the program says of it.
func TestHelpQuotesTheDemo(t *testing.T) {
	t.Parallel()
	stereo, zones := seatsLine(compiledOnce()), seatsLine(zonedOnce())
	quoted(t, "zones", stereo, zones)
	quoted(t, "stands", stereo)
	_, working, _ := strings.Cut(explanation(t, zonedOnce()), "ZONES\n")
	working, _, _ = strings.Cut(working, "\n\n")
	quoted(t, "zones", "ZONES\n"+working)
	quoted(t, "stands", linesLike(explanation(t, compiledOnce()), "  of [0-9]+ seats, .*\n.*\n  median: .*")...)
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	share := shareOfSeats.FindString
	claim := fmt.Sprintf("have %s of\n  seats in time in stereo, and %s with zones", share(stereo), share(zones))
	if !strings.Contains(string(readme), claim) {
		t.Errorf("README.md does not say %q", claim)
	}
	var b strings.Builder
	musicverbs.PrintSuggestions(&b, suggest.List(compiledOnce().Result))
	suggestions := strings.ReplaceAll(b.String(), harbor, "examples/harbor")
	quoted(t, "suggest", linesLike(suggestions, ".*: Tuba 4, Tuba 7, Tuba 12: open for .*")...)
	if !strings.Contains(stereo, policyShares(t)[stands.MostSeats.Name]+" % of seats in time") {
		t.Errorf("stands.md says %s %% of most-seats, and compile: %s", policyShares(t)[stands.MostSeats.Name], stereo)
	}
}

// The same for what takes several compiles of the demo, or a search over them.
func TestHelpQuotesMoreOfTheDemo(t *testing.T) {
	t.Parallel()
	if !*wholeDemo {
		t.Skip("half a minute of computing: ask for it by -demo")
	}
	say := func(args ...string) string {
		code, out, talk := said(t, args...)
		if code != verb.ExitFine {
			t.Fatalf("%v: %d\n%s%s", args, code, out, talk)
		}
		return out
	}
	nights, rows, _ := strings.Cut(say("compare", harbor, "--air", "18C,31C"), "\n\n")
	quoted(t, "compare", nights+"\n\n"+strings.Join(strings.SplitN(rows, "\n", 5)[:4], "\n"))
	for policy, want := range policyShares(t) {
		if policy == stands.MostSeats.Name { // the demo's own
			continue
		}
		if got := fmt.Sprintf("%.0f", 100*inside(t, harbor, policy, 2)); got != want {
			t.Errorf("stands.md has %s %% for %s, which is %s", want, policy, got)
		}
	}
	priced := regexp.MustCompile("(?m)^\\| `([^|]*)` \\| ([0-9]+) % \\| ([0-9]+) % \\|$")
	prices := priced.FindAllStringSubmatch(helpPage(t, "stands"), -1)
	if len(prices) < 9 {
		t.Errorf("stands.md has %d rows of what the box's bound and the kinds of mixer cost", len(prices))
	}
	for _, row := range prices {
		key, moves := "delay.box = "+row[1], "glide"
		if kind, rest, _ := strings.Cut(row[1], "`, `"); !strings.Contains(row[1], "ms") && kind != `"free"` {
			moves = strings.Trim(kind, `"`)
			key = strings.Replace(rest, "dip", "delay.dip", 1)
		}
		for i, venue := range [][]string{nil, {harborZones}} {
			dir := copied(t, harbor)
			replace(t, filepath.Join(dir, "mixer.toml"), `moves   = "glide"`, fmt.Sprintf("moves   = %q", moves))
			replace(t, filepath.Join(dir, "show.toml"), "title  =", key+"\ntitle  =")
			if got := fmt.Sprintf("%.0f", 100*inside(t, dir, stands.MostSeats.Name, 2, venue...)); got != row[2+i] {
				t.Errorf("stands.md has %s %% for %s, venue %v, which is %s", row[2+i], row[1], venue, got)
			}
		}
	}
	one := fmt.Sprintf("has %.0f %% of seats in time with 1", 100*inside(t, harbor, "most-seats", 1, harborZones))
	if !strings.Contains(helpPage(t, "zones"), one) {
		t.Errorf("zones.md does not say %q", one)
	}
	tuned := strings.TrimSuffix(say("tune", harbor), "\n")
	quoted(t, "tune", tuned)
	quoted(t, "zones", linesLike(tuned, "  (as the rig is|tuned|zone sends) .*")...)
}

// shareOfSeats finds the first share in a line about the seats.
var shareOfSeats = regexp.MustCompile("[0-9]+ %")

// quoted holds a page to lines that it should show.
func quoted(t *testing.T, topic string, lines ...string) {
	t.Helper()
	if len(lines) == 0 {
		t.Errorf("%s.md: nothing to compare", topic)
	}
	for _, line := range lines {
		if !strings.Contains(helpPage(t, topic), "\n"+line+"\n") {
			t.Errorf("%s.md does not show\n%s", topic, line)
		}
	}
}

func linesLike(text, pattern string) []string {
	return regexp.MustCompile("(?m)^"+pattern+"$").FindAllString(text, -1)
}

// seatsLine is what compile says of the seats of a show.
func seatsLine(s *show.Loaded) string {
	var b strings.Builder
	compiled.Summary(&b, s, nil)
	return strings.Join(linesLike(b.String(), "[0-9]+ seats, .*\n  on average .*"), "\n")
}

// explanation is what explain says of a trumpet of the demo.
func explanation(t *testing.T, s *show.Loaded) string {
	t.Helper()
	text, err := explain.Text(s, "6", "Tpt 3")
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// policyShares are the shares of seats, in %, that the page of the stand gives for each policy.
func policyShares(t *testing.T) map[string]string {
	t.Helper()
	shares := map[string]string{}
	rows := regexp.MustCompile("(?m)^\\| `([a-z-]+)` \\| ([0-9]+) % \\|$")
	for _, m := range rows.FindAllStringSubmatch(helpPage(t, "stands"), -1) {
		shares[m[1]] = m[2]
	}
	if len(shares) < 3 {
		t.Fatalf("stands.md has the shares of %d policies", len(shares))
	}
	return shares
}

// inside is the demo's mean share of seats inside the window with another policy, and with so many stacks to carry
// a player in zones.
func inside(t *testing.T, demo, policy string, most int, venue ...string) float64 {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(demo, "show.toml"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(demo)); err != nil {
		t.Fatal(err)
	}
	text = fmt.Appendf(nil, "delay.policy = %q\nzones.most = %d\n%s", policy, most, text)
	if err := os.WriteFile(filepath.Join(dir, "show.toml"), text, 0o666); err != nil {
		t.Fatal(err)
	}
	var flags verb.ShowFlags
	if len(venue) > 0 {
		flags.Venue = venue[0]
	}
	s, problems, err := flags.Load(show.Disk{}, dir)
	if err != nil || s.Result.Show == nil {
		t.Fatal(err, problems)
	}
	fit, _ := s.Show.MeanFit()
	return fit.InTime
}

// The venue of rig.md can be laid over its first rig: all that is wrong is that this has no subs to omit.
func TestHelpVenueIsRead(t *testing.T) {
	t.Parallel()
	list := blocks(helpPage(t, "rig"), "toml")
	base, _ := source.Open("rig.toml", []byte(list[0]), fields.TOMLLimit)
	over, _ := source.Open("venue.toml", []byte(list[len(list)-1]), fields.TOMLLimit)
	var p source.Problems
	r := rig.Read(base, over, &p)
	for _, x := range p.All() {
		if x.Code != "unknown-name" {
			t.Errorf("%s: %s: %s [%s]", x.Span.Where(), x.Severity, x.What, x.Code)
		}
	}
	if r.Stacks[0].At.X != -29 || r.Stacks[0].At.Z != 2.5 || r.Mics[0].At.Z != 1.2 || r.AirC != 13 {
		t.Errorf("stack at %+v, mic at %+v, air %g", r.Stacks[0].At, r.Mics[0].At, r.AirC)
	}
}

var dotRow = regexp.MustCompile("(?m)^\\| `([^`]+)` \\| (-?[0-9.]+) \\|$")

// Every notation of a dot in drill.md is read to the steps that stand beside it.
func TestHelpDotsAreRead(t *testing.T) {
	t.Parallel()
	college, _ := field.ByCode("college")
	across, along, ok := strings.Cut(helpPage(t, "drill"), "Along the field.")
	if !ok {
		t.Fatal("no table of depths")
	}
	for _, half := range []struct {
		text string
		read func(string) (float64, *source.Fault)
	}{{across, college.Lateral}, {along, college.Depth}} {
		rows := dotRow.FindAllStringSubmatch(half.text, -1)
		if len(rows) < 15 {
			t.Errorf("only %d notations found", len(rows))
		}
		for _, row := range rows {
			want, _ := strconv.ParseFloat(row[2], 64)
			m, fault := half.read(row[1])
			if fault != nil || math.Abs(m/unit.StepM-want) > 0.00501 {
				t.Errorf("%q is %.4f steps (%v), listed as %g", row[1], m/unit.StepM, fault, want)
			}
		}
	}
}

// Every position written in positions.md is one.
func TestHelpCountsAreRead(t *testing.T) {
	t.Parallel()
	rows := regexp.MustCompile("(?m)^\\| `([^`]+)` \\|").FindAllStringSubmatch(helpPage(t, "counts"), -1)
	if len(rows) < 10 {
		t.Errorf("only %d positions found", len(rows))
	}
	for _, row := range rows {
		if _, fault := clock.ParseShowCount(row[1]); fault != nil {
			t.Errorf("%q: %v", row[1], fault)
		}
	}
}

// outputLine is a line of explain or suggest, which are as wide as they are.
var outputLine = regexp.MustCompile("^ *([a-z]+ {2,}|of [0-9]+ seats|[0-9]+:[0-9.]+ )")

// A terminal shows the pages as they are. Rows of tables may be longer in pages that are mostly looked up.
func TestHelpFitsATerminal(t *testing.T) {
	t.Parallel()
	for _, topic := range help.Topics() {
		n, inBlock := 0, false
		for line := range strings.Lines(helpPage(t, topic)) {
			n++
			width := 120
			if strings.HasPrefix(line, "|") || inBlock && outputLine.MatchString(line) {
				width = 180
			}
			if strings.HasPrefix(line, "```") {
				inBlock = !inBlock
			}
			if got := utf8.RuneCountInString(strings.TrimRight(line, "\n")); got > width {
				t.Errorf("%s.md:%d is %d characters wide, over %d", topic, n, got, width)
			}
		}
	}
}

var problemLine = regexp.MustCompile("(?m)^- `([a-z-]+)` \\(([a-z, ]+)\\): ")

// The list of problems.md is the list of the source, with the severities that the source gives.
func TestHelpHasEveryProblem(t *testing.T) {
	t.Parallel()
	listed := map[string]string{}
	var order []string
	for _, m := range problemLine.FindAllStringSubmatch(helpPage(t, "problems"), -1) {
		listed[m[1]] = m[2]
		order = append(order, m[1])
	}
	if !slices.IsSorted(order) || len(order) != len(listed) {
		t.Error("problems.md is not in order, or has a code twice")
	}
	found, open := codes(t)
	if len(found) < 50 {
		t.Fatalf("only %d codes found in the source", len(found))
	}
	for code, severities := range found {
		if want := strings.Join(slices.Sorted(maps.Keys(severities)), ", "); listed[code] != want {
			t.Errorf("problems.md has %q for %s, the source %q", listed[code], code, want)
		}
	}
	for _, code := range order {
		if found[code] == nil && !slices.ContainsFunc(open,
			func(prefix string) bool { return strings.HasPrefix(code, prefix) }) {
			t.Errorf("nothing reports %s", code)
		}
	}
	for _, prefix := range open {
		if !slices.ContainsFunc(order, func(code string) bool { return strings.HasPrefix(code, prefix) }) {
			t.Errorf("problems.md has no code that begins with %s", prefix)
		}
	}
}

// codes finds the codes of all problems that the program reports, each with its severities; and the beginnings
// of those that are put together.
func codes(t *testing.T) (found map[string]map[string]bool, prefixes []string) {
	found = map[string]map[string]bool{}
	for _, room := range []string{"layout", "cue", "osc", "cmd"} {
		err := filepath.WalkDir(filepath.Join("..", "..", room), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			set := token.NewFileSet()
			f, err := parser.ParseFile(set, path, text, 0)
			if err != nil {
				return err
			}
			c := codeFinder{t: t, set: set, found: found, names: map[string][]string{}}
			ast.Inspect(f, c.assigned)
			ast.Inspect(f, c.passedOn)
			ast.Inspect(f, c.reported)
			prefixes = append(prefixes, c.prefixes...)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, code := range rules.Codes() {
		found[code] = map[string]bool{"warning": true}
	}
	return found, prefixes
}

type codeFinder struct {
	t        *testing.T
	set      *token.FileSet
	found    map[string]map[string]bool
	names    map[string][]string // literals that a variable of that name is given in this file
	prefixes []string
	passed   ast.Expr // the code that the method About is given, and passes on
}

func (c *codeFinder) add(code, severity string) {
	if c.found[code] == nil {
		c.found[code] = map[string]bool{}
	}
	c.found[code][severity] = true
}

// assigned notes `code := "x"`, `code = "x"` and `problem.Code = "x"`, the last of which reports an error.
func (c *codeFinder) assigned(n ast.Node) bool {
	a, ok := n.(*ast.AssignStmt)
	if !ok || len(a.Lhs) != len(a.Rhs) {
		return true
	}
	for i, left := range a.Lhs {
		text, ok := literal(a.Rhs[i])
		if !ok {
			continue
		}
		switch left := left.(type) {
		case *ast.Ident:
			c.names[left.Name] = append(c.names[left.Name], text)
		case *ast.SelectorExpr:
			if left.Sel.Name == "Code" {
				c.add(text, "error")
			}
		}
	}
	return true
}

// passedOn finds the one place where a code comes from outside: p.Warn within the method About(c, code, ...), whose
// callers are looked at instead.
func (c *codeFinder) passedOn(n ast.Node) bool {
	f, ok := n.(*ast.FuncDecl)
	if !ok || f.Name.Name != "About" || f.Recv == nil {
		return true
	}
	ast.Inspect(f.Body, func(n ast.Node) bool {
		if call, ok := n.(*ast.CallExpr); ok && len(call.Args) >= 4 {
			if method, ok := call.Fun.(*ast.SelectorExpr); ok && method.Sel.Name == "Warn" &&
				fmt.Sprint(call.Args[0]) == "code" {
				c.passed = call.Args[0]
			}
		}
		return true
	})
	return false
}

// reported looks at remarks.About(cue, code, at, what, do), and notes p.Error(code, at, what, do), p.Warn(...), and
// Problem{Code: ...}.
func (c *codeFinder) reported(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.CallExpr:
		method, ok := n.Fun.(*ast.SelectorExpr)
		severity := map[string]string{"Error": "error", "Warn": "warning", "ErrorAt": "error", "WarningAt": "warning"}
		switch {
		case !ok:
		case severity[method.Sel.Name] != "" && len(n.Args) >= 4 && n.Args[0] != c.passed:
			c.code(n.Args[0], severity[method.Sel.Name])
		case method.Sel.Name == "About" && len(n.Args) == 5:
			code, ok := literal(n.Args[1]) // else it is a rule's
			if ok && !slices.Contains(rules.Codes(), code) {
				c.t.Errorf("%s: %s is reported about a cue and is no rule", c.set.Position(n.Pos()), code)
			}
		}
	case *ast.CompositeLit:
		name := ""
		switch typ := n.Type.(type) {
		case *ast.Ident:
			name = typ.Name
		case *ast.SelectorExpr:
			name = typ.Sel.Name
		}
		if name != "Problem" {
			return true
		}
		code, severity := ast.Expr(nil), "error" // the zero value
		for _, e := range n.Elts {
			if kv, ok := e.(*ast.KeyValueExpr); ok {
				switch fmt.Sprint(kv.Key) {
				case "Code":
					code = kv.Value
				case "Severity":
					severity = "warning"
				}
			}
		}
		if code != nil {
			c.code(code, severity)
		}
	}
	return true
}

func (c *codeFinder) code(e ast.Expr, severity string) {
	if text, ok := literal(e); ok {
		c.add(text, severity)
		return
	}
	if sum, ok := e.(*ast.BinaryExpr); ok {
		if prefix, ok := literal(sum.X); ok {
			c.prefixes = append(c.prefixes, prefix)
			return
		}
	}
	if name, ok := e.(*ast.Ident); ok && len(c.names[name.Name]) > 0 {
		for _, text := range c.names[name.Name] {
			c.add(text, severity)
		}
		return
	}
	c.t.Errorf("%s: this test cannot find which code is reported here", c.set.Position(e.Pos()))
}

func literal(e ast.Expr) (string, bool) {
	b, ok := e.(*ast.BasicLit)
	if !ok || b.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(b.Value)
	return text, err == nil
}
