package structure

import (
	"go/parser"
	"go/scanner"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"
)

// The limits of a tree that can be read: a file, unless its first comment says why it is one; a package and a file of
// verbs, tests apart; a line of code, where a tab is four columns.
const (
	mostFileLines    = 400
	mostVerbLines    = 150
	mostPackageLines = 2000
	mostColumns      = 120
)

// reason is how the first comment of a long file begins to say why it is one.
var reason = regexp.MustCompile(`(?i)\b(one|long) file\b.*\b(because|since)\b|\bis (as )?long because\b`)

func TestSizes(t *testing.T) {
	packages := map[string]int{}
	walkGo(t, func(file string, test bool) {
		if test {
			return
		}
		text := read(t, file)
		lines := strings.Count(text, "\n")
		packages[path.Dir(file)] += lines
		if lines > mostFileLines && !reason.MatchString(firstComment(t, text)) {
			t.Errorf("%s has %d lines, and its first comment does not say why", file, lines)
		}
		dir := path.Dir(file)
		if verbs := dir == "cmd/backfield" || dir == "cmd/backfield/mixerverbs"; verbs && lines > mostVerbLines {
			t.Errorf("%s has %d lines: a verb reads flags, and hands over what it computes", file, lines)
		}
	})
	for name, lines := range packages {
		if lines > mostPackageLines {
			t.Errorf("the package %s has %d lines", name, lines)
		}
	}
	if len(packages) < 30 {
		t.Errorf("%d packages; is this the whole tree?", len(packages))
	}
}

func TestColumns(t *testing.T) {
	walkGo(t, func(file string, test bool) {
		if test {
			return
		}
		text := read(t, file)
		shown := rawLines(text)
		for i, line := range strings.Split(text, "\n") {
			if strings.HasPrefix(strings.TrimSpace(line), "//") || shown[i+1] {
				continue
			}
			if n := utf8.RuneCountInString(strings.ReplaceAll(line, "\t", "    ")); n > mostColumns {
				t.Errorf("%s:%d has %d columns", file, i+1, n)
			}
		}
	})
}

// rawLines are the lines, from 1, of raw strings of several lines: text that is shown as it stands.
func rawLines(text string) map[int]bool {
	lines := map[int]bool{}
	files := token.NewFileSet()
	file := files.AddFile("", -1, len(text))
	var s scanner.Scanner
	s.Init(file, []byte(text), nil, 0)
	for {
		pos, tok, lit := s.Scan()
		if tok == token.EOF {
			return lines
		}
		if n := strings.Count(lit, "\n"); tok == token.STRING && n > 0 {
			for i := range n + 1 {
				lines[file.Line(pos)+i] = true
			}
		}
	}
}

// firstComment is the first comment of a file, empty where it has none.
func firstComment(t *testing.T, text string) string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), "", text, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Comments) == 0 {
		return ""
	}
	return f.Comments[0].Text()
}

func read(t *testing.T, file string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("../../..", file))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
