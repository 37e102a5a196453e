package words

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// piece is a text that a reader sees, and where it is.
type piece struct {
	file string
	line int
	text string
}

// everyText lists what readers see of the project: the help pages and README, the strings of the program, the words of
// the web pages and papers, and the descriptions in the schemas.
func everyText(t *testing.T) []piece {
	t.Helper()
	var list []piece
	walk(t, func(name, text string) {
		switch path.Ext(name) {
		case ".go":
			if !strings.HasSuffix(name, "_test.go") {
				list = append(list, goStrings(t, name, text)...)
			}
		case ".md":
			if name == "README.md" || strings.HasPrefix(name, "cmd/backfield/help/") {
				list = append(list, piece{name, 1, prose(name, text)})
			}
		case ".html":
			list = append(list, piece{name, 1, htmlWords(text)})
		case ".js":
			list = append(list, scriptStrings(name, text)...)
		case ".css":
			for _, m := range cssContent.FindAllStringSubmatchIndex(text, -1) {
				list = append(list, piece{name, 1 + strings.Count(text[:m[2]], "\n"), text[m[2]:m[3]]})
			}
		case ".json":
			if strings.HasPrefix(name, "cmd/backfield/schemas/") {
				list = append(list, descriptions(t, name, text)...)
			}
		}
	})
	return list
}

var cssContent = regexp.MustCompile(`content:\s*"([^"]*)"`)

// walk calls do with every file of the program and the README. Goldens and other test data are not read.
func walk(t *testing.T, do func(name, text string)) {
	t.Helper()
	err := fs.WalkDir(os.DirFS(top), ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "testdata" || name == "examples" || strings.HasPrefix(d.Name(), ".") && name != "."):
			return fs.SkipDir
		case d.IsDir():
			return nil
		}
		text, err := fs.ReadFile(os.DirFS(top), name)
		if err != nil {
			return err
		}
		do(name, string(text))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

var codeSpan = regexp.MustCompile("`[^`\n]+`")

// prose is a page with its code, since an example may not have an old name. The changelog names what was renamed:
// there the code spans do not count.
func prose(name, text string) string {
	if path.Base(name) == "changelog.md" {
		return codeSpan.ReplaceAllString(text, "``")
	}
	return text
}

// goStrings lists the string literals of a Go file other than imports. Of a struct tag only the key of a file counts:
// the names in JSON belong to versioned formats.
func goStrings(t *testing.T, name, text string) []piece {
	t.Helper()
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, name, text, 0)
	if err != nil {
		t.Fatal(err)
	}
	tags := map[*ast.BasicLit]bool{}
	var list []piece
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.Field:
			if n.Tag != nil {
				tags[n.Tag] = true
			}
		case *ast.BasicLit:
			if n.Kind != token.STRING {
				return true
			}
			s, err := strconv.Unquote(n.Value)
			if err != nil {
				t.Fatal(err)
			}
			if tags[n] {
				s = fileKey.FindString(s)
			}
			list = append(list, piece{name, set.Position(n.Pos()).Line, s})
		}
		return true
	})
	return list
}

var fileKey = regexp.MustCompile(`key:"[^"]*"`)

var (
	htmlSilent = regexp.MustCompile(`(?s)<style>.*?</style>|<script>.*?</script>|\{\{.*?\}\}|<!--.*?-->`)
	htmlTag    = regexp.MustCompile(`(?s)<[^>]*>`)
	htmlSaid   = regexp.MustCompile(`(?:title|alt|aria-label|placeholder)="([^"]*)"`)
)

// htmlWords is what a page shows or reads aloud, each word on its own line still.
func htmlWords(text string) string {
	text = htmlSilent.ReplaceAllStringFunc(text, breaks)
	return htmlTag.ReplaceAllStringFunc(text, func(tag string) string {
		said := breaks(tag) // those within the tag come first, which shifts only lines of one tag
		for _, m := range htmlSaid.FindAllStringSubmatch(tag, -1) {
			said += " " + m[1] + " "
		}
		return said
	})
}

// breaks is the line breaks of a text.
func breaks(s string) string { return strings.Repeat("\n", strings.Count(s, "\n")) }

var scriptToken = regexp.MustCompile(`(?s)//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|` + "`(?:\\\\.|[^`\\\\])*`")

// scriptStrings lists the strings of a script. What is computed within a template is taken as part of it.
func scriptStrings(name, text string) []piece {
	var list []piece
	for _, at := range scriptToken.FindAllStringIndex(text, -1) {
		if s := text[at[0]:at[1]]; s[0] != '/' {
			list = append(list, piece{name, 1 + strings.Count(text[:at[0]], "\n"), s[1 : len(s)-1]})
		}
	}
	return list
}

// descriptions lists the descriptions and titles of a schema, and its keys.
func descriptions(t *testing.T, name, text string) []piece {
	t.Helper()
	var list []piece
	for i, line := range strings.Split(text, "\n") {
		for _, m := range jsonString.FindAllString(line, -1) {
			var s string
			if err := json.Unmarshal([]byte(m), &s); err != nil {
				t.Fatalf("%s:%d: %v", name, i+1, err)
			}
			list = append(list, piece{name, i + 1, s})
		}
	}
	return list
}

var jsonString = regexp.MustCompile(`"(?:\\.|[^"\\])*"`)
