package words

import (
	"fmt"
	"maps"
	"math"
	"path"
	"slices"
	"strings"
	"testing"
)

// notYet lists what is still to be rewritten: folders, which end in a slash, and files, as path.Match takes them. What
// has no banned word left must come off the list, which the test sees to.
var notYet = []string{
	"osc/run/", "osc/trigger/",
}

func waits(pattern, file string) bool {
	if strings.HasSuffix(pattern, "/") {
		return strings.HasPrefix(file, pattern)
	}
	ok, _ := path.Match(pattern, file)
	return ok
}

// gradeNotYet lists the help pages that are still over the grade.
var gradeNotYet = []string{}

// typesChecked is whether a type name may be declared in one package only. It is false until the names are changed.
const typesChecked = true

// oneThing lists the type names that more than one package may declare, each with the reason.
var oneThing = map[string]string{}

const mostGrade = 9

func TestGlossaryWords(t *testing.T) {
	terms := readGlossary(t)
	texts := everyText(t)
	if len(texts) < 1000 {
		t.Fatalf("only %d texts found", len(texts))
	}
	left := map[string]int{}
	for _, p := range texts {
		found := find(terms, p.file, p.line, p.text)
		if i := slices.IndexFunc(notYet, func(pattern string) bool { return waits(pattern, p.file) }); i >= 0 {
			left[notYet[i]] += len(found)
			continue
		}
		for _, f := range found {
			t.Error(f)
		}
	}
	for _, pattern := range notYet {
		if left[pattern] == 0 {
			t.Errorf("%s has no banned word: take it off the list notYet", pattern)
		}
	}
}

// Every banned phrase is found when planted, and every allowed one passes although it has a banned phrase in it.
func TestPlantedWords(t *testing.T) {
	terms := readGlossary(t)
	filler := strings.NewReplacer(" ... ", " a rather short text ", "*", "s")
	for _, x := range terms {
		for _, phrase := range x.neverText {
			text := "The first line.\nThen " + filler.Replace(phrase) + " and more."
			found := find(terms, "page.md", 1, text)
			at := slices.IndexFunc(found, func(f finding) bool { return f.say == x.say })
			if at < 0 || found[at].where != "page.md:2" {
				t.Errorf("%q is not found in %q: %v", phrase, text, found)
			}
		}
		bare := x
		bare.allowed = nil
		for _, e := range x.allowed {
			if e.text == "*" {
				continue
			}
			text := "Then " + filler.Replace(e.text) + " and more."
			if found := find([]term{x}, "page.md"+e.file, 1, text); len(found) > 0 {
				t.Errorf("%q is allowed and found: %v", e.text, found)
			}
			if len(find([]term{bare}, "page.md", 1, text)) == 0 {
				t.Errorf("%q is allowed and has no banned phrase in it", e.text)
			}
		}
	}
}

// No phrase is to be said in one row and never in another, or two rows would contradict each other.
func TestGlossaryAgrees(t *testing.T) {
	terms := readGlossary(t)
	seen := map[string]string{}
	for _, x := range terms {
		for _, f := range find(terms, "glossary", 1, x.say) {
			t.Errorf("%q is to be said and has a banned word: %v", x.say, f)
		}
		for _, phrase := range x.neverText {
			key := strings.ToLower(phrase)
			if other, ok := seen[key]; ok && other != x.say {
				t.Errorf("%q is banned for %q and for %q", phrase, other, x.say)
			}
			seen[key] = x.say
		}
	}
}

// A planted word is found in each kind of text, and a word where nobody reads it is not.
func TestPlantedTexts(t *testing.T) {
	terms, err := parseGlossary("say\tfor\tnever\tallowed\nfix\tmake right\tmend*\tin changed.md: mended: *\n")
	if err != nil {
		t.Fatal(err)
	}
	count := func(pieces ...piece) (lines []string) {
		for _, p := range pieces {
			for _, f := range find(terms, p.file, p.line, p.text) {
				lines = append(lines, f.where)
			}
		}
		return lines
	}
	for _, c := range []struct {
		name string
		got  []string
		want string
	}{
		{"Go", count(goStrings(t, "a.go", "package a // mend\nimport _ \"mend\"\nvar mend = \"it is\" +\n \" mended\"\n")...), "[a.go:4]"},
		{"tag", count(goStrings(t, "a.go", "package a\ntype x struct {\n A int `json:\"mend\"`\n B int `json:\"b\" key:\"mend\"`\n}\n")...), "[a.go:4]"},
		{"HTML", count(piece{"a.html", 1, htmlWords("<p id=\"mend\"\nclass=\"mend\">{{.mend}} fixed\n<b title=\"to mend\">x</b>")}), "[a.html:3]"},
		{"script", count(scriptStrings("a.js", "// mend\nlet mend = \"x\";\nsay(`to\n mend`);")...), "[a.js:4]"},
		{"page", count(piece{"a.md", 1, prose("a.md", "To\n`mend` it\n")}), "[a.md:2]"},
		{"two lines", count(piece{"a.md", 1, "amend it, mendicant\n"}), "[a.md:1]"},
		{"changelog", count(piece{"help/changelog.md", 1, prose("help/changelog.md", "`mend` is now `fix`\n")}), "[]"},
		{"allowed", count(piece{"changed.md", 1, "mended: all\n"}, piece{"b.md", 1, "mended: all\n"}), "[b.md:1]"},
		{"schema", count(descriptions(t, "a.json", "{\n \"description\": \"to \\\"mend\\\"\"\n}")...), "[a.json:2]"},
	} {
		if fmt.Sprint(c.got) != c.want {
			t.Errorf("%s: found at %v, want %s", c.name, c.got, c.want)
		}
	}
}

func TestGradeOfHelp(t *testing.T) {
	walk(t, func(name, text string) {
		if !strings.HasPrefix(name, "cmd/backfield/help/") || path.Ext(name) != ".md" {
			return
		}
		got, words := grade(text)
		waiting := slices.Contains(gradeNotYet, strings.TrimPrefix(name, "cmd/backfield/help/"))
		switch {
		case words < 50:
			t.Errorf("%s: only %d words are counted", name, words)
		case waiting && got < mostGrade:
			t.Errorf("%s is grade %.1f: take it off the list gradeNotYet", name, got)
		case !waiting && got >= mostGrade:
			t.Errorf("%s is grade %.1f, not under %d", name, got, mostGrade)
		}
	})
}

// The grade of a page is that of its sentences by the formula, worked out here by counting on paper.
func TestGrade(t *testing.T) {
	const page = "# An incomprehensible heading\n\nThe cat sat. The dog ran to the `incomprehensible` house.\n" +
		"\n| a | incomprehensibility |\n\n```\nincomprehensible\n```\n\n- `--x`  Go.\n\n    backfield incomprehensible\n"
	// 10 words in 3 sentences, all of one syllable.
	got, words := grade(page)
	if want := 0.39*10/3 + 11.8 - 15.59; words != 10 || math.Abs(got-want) > 1e-9 {
		t.Errorf("%d words of grade %.3f, want 10 of %.3f", words, got, want)
	}
	hard, _ := grade("Notwithstanding considerable organizational difficulties, the municipality reconsidered its comprehensive regulations.")
	if hard < 20 {
		t.Errorf("a hard sentence is only of grade %.1f", hard)
	}
}

func TestSyllables(t *testing.T) {
	for word, want := range map[string]int{
		"the": 1, "made": 1, "makes": 1, "moved": 1, "started": 2, "table": 2, "boxes": 2, "changes": 2, "closes": 2, "player": 2,
		"loudspeaker": 3, "trumpet": 2, "audience": 3, "radio": 3, "section": 2, "people": 2, "file": 1, "whole": 1, "scale": 1,
		"mixer": 2, "opened": 2, "muted": 2, "OSC": 3, "area": 3, "value": 2, "delay": 2, "cue": 1, "cues": 1, "used": 1, "console": 2,
	} {
		if got := syllablesOf(word); got != want {
			t.Errorf("%s: %d syllables, want %d", word, got, want)
		}
	}
}

func TestTypeNames(t *testing.T) {
	shared := sameName(typePackages(t))
	if !typesChecked {
		t.Skipf("%d type names are declared in more than one package", len(shared))
	}
	for _, name := range slices.Sorted(maps.Keys(shared)) {
		if oneThing[name] == "" {
			t.Errorf("the type %s is declared in %s: give each thing its own name", name, strings.Join(shared[name], ", "))
		}
	}
	for name := range oneThing {
		if shared[name] == nil {
			t.Errorf("the type %s is declared once: take it off the list oneThing", name)
		}
	}
}

func TestPlantedTypeNames(t *testing.T) {
	got := map[string][]string{}
	for dir, text := range map[string]string{
		"a": "package a\ntype Line struct{}\ntype once int\n",
		"b": "package b\ntype (\n line = string\n other int\n)\nfunc f() { type once int }\n",
	} {
		for _, name := range typesOf(t, dir+"/x.go", text) {
			got[name] = append(got[name], dir)
		}
	}
	if shared := fmt.Sprint(sameName(got)); shared != "map[line:[a b]]" {
		t.Errorf("%s", shared)
	}
}
