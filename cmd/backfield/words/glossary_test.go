// Package words holds the project's text to testdata/glossary.tsv: one word for one thing, in plain American English.
// It has tests only.
//
// A row of the glossary is: the word to say, what it is for, the phrases never used for that, and the phrases in
// which a banned one is right. Phrases are separated by "; " and match whole words in any case. In a phrase, * is
// the rest of a word, ... is a few words within a sentence, and "in FILE: phrase" is right in that file alone
// ("in FILE: *" lets every use in that file pass).
package words

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
)

const top = "../../.."

// term is a row of the glossary.
type term struct {
	say, meaning string
	never        []*regexp.Regexp
	neverText    []string
	allowed      []exception
}

// exception is a phrase in which a banned one is right; everywhere when it names no file.
type exception struct {
	file    string
	text    string
	pattern *regexp.Regexp
}

// finding is a banned phrase at a line of a file.
type finding struct {
	where        string
	phrase, say  string
	meaning, row string
}

func (f finding) String() string {
	return fmt.Sprintf("%s: %q in %q: say %q (%s)", f.where, f.phrase, f.row, f.say, f.meaning)
}

func readGlossary(t *testing.T) []term {
	t.Helper()
	text, err := os.ReadFile(top + "/testdata/glossary.tsv")
	if err != nil {
		t.Fatal(err)
	}
	terms, err := parseGlossary(string(text))
	if err != nil {
		t.Fatal(err)
	}
	return terms
}

func parseGlossary(text string) ([]term, error) {
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if lines[0] != "say\tfor\tnever\tallowed" {
		return nil, fmt.Errorf("the first line is %q", lines[0])
	}
	var terms []term
	for i, line := range lines[1:] {
		cells := strings.Split(line, "\t")
		if len(cells) != 4 || cells[0] == "" || cells[1] == "" {
			return nil, fmt.Errorf("line %d: want four cells, the first two not empty: %q", i+2, line)
		}
		x := term{say: cells[0], meaning: cells[1], neverText: phrases(cells[2])}
		for _, p := range x.neverText {
			x.never = append(x.never, phrasePattern(p))
		}
		for _, p := range phrases(cells[3]) {
			e := exception{text: p}
			if rest, ok := strings.CutPrefix(p, "in "); ok {
				if file, phrase, ok := strings.Cut(rest, ": "); ok && strings.Contains(file, ".") {
					e.file, e.text = file, phrase
				}
			}
			e.pattern = phrasePattern(e.text)
			x.allowed = append(x.allowed, e)
		}
		terms = append(terms, x)
	}
	return terms, nil
}

func phrases(cell string) []string {
	if cell == "" {
		return nil
	}
	return strings.Split(cell, "; ")
}

// phrasePattern matches a phrase as whole words, over a line's end too. "*" alone matches any line.
func phrasePattern(phrase string) *regexp.Regexp {
	if phrase == "*" {
		return regexp.MustCompile(`.+`)
	}
	p := regexp.QuoteMeta(phrase)
	p = strings.ReplaceAll(p, ` \.\.\. `, `[^.!?]{1,60}?`)
	p = strings.ReplaceAll(p, `\*`, `[\pL\d_]*`)
	p = strings.ReplaceAll(p, " ", `\s+`)
	edge := func(b byte) string {
		if b == '_' || b >= '0' && b <= '9' || b >= 'A' && b <= 'Z' || b >= 'a' && b <= 'z' {
			return `\b`
		}
		return ""
	}
	last := edge(phrase[len(phrase)-1])
	return regexp.MustCompile(`(?i)` + edge(phrase[0]) + p + last)
}

// find lists the banned phrases of a text that starts at a line of a file.
func find(terms []term, file string, first int, text string) []finding {
	var list []finding
	for _, x := range terms {
		var right [][]int
		for _, e := range x.allowed {
			if e.file == "" || strings.HasSuffix(file, e.file) {
				right = append(right, e.pattern.FindAllStringIndex(text, -1)...)
			}
		}
		for _, p := range x.never {
			for _, at := range p.FindAllStringIndex(text, -1) {
				if within(at, right) {
					continue
				}
				where := fmt.Sprintf("%s:%d", file, first+strings.Count(text[:at[0]], "\n"))
				list = append(list, finding{where, text[at[0]:at[1]], x.say, x.meaning, around(text, at)})
			}
		}
	}
	return list
}

func within(at []int, spans [][]int) bool {
	for _, s := range spans {
		if s[0] <= at[0] && at[1] <= s[1] {
			return true
		}
	}
	return false
}

// around is a match with some of its line.
func around(text string, at []int) string {
	begin := max(strings.LastIndexByte(text[:at[0]], '\n')+1, at[0]-30)
	end := min(len(text), at[1]+30)
	if i := strings.IndexByte(text[at[1]:end], '\n'); i >= 0 {
		end = at[1] + i
	}
	return strings.ToValidUTF8(text[begin:end], "")
}
