package source

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// On a terminal the message is broken where it says, and the line that is shown is cut to fit, with the caret in place.
func TestPrinterColumns(t *testing.T) {
	t.Parallel()
	text := strings.Repeat("a", 90) + " wrong " + strings.Repeat("b", 90)
	f := &File{Name: "dots.csv", Text: text}
	problem := Problem{Severity: Error, What: "this is wrong", Do: "make it right", Code: "bad", Span: Span{f, 91, 96}}
	half := func(line string, columns int) []string { return []string{line[:20], "    " + line[20:]} }
	for _, columns := range []int{40, 60, 80, 140} {
		var b strings.Builder
		Printer{Columns: columns, Wrap: half}.Print(&b, []Problem{problem})
		lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
		if len(lines) != 4 || lines[0] != "dots.csv:1:92: error" || !strings.HasPrefix(lines[1], "    : this is wrong") {
			t.Fatalf("%d columns:\n%s", columns, b.String())
		}
		shown, caret := []rune(lines[2]), []rune(lines[3])
		if utf8.RuneCountInString(lines[2]) > columns {
			t.Errorf("%d columns: %q is longer", columns, lines[2])
		}
		at := strings.IndexByte(string(caret), '^')
		if got := string(shown[at:min(at+5, len(shown))]); got != "wrong" {
			t.Errorf("%d columns: the caret is under %q:\n%s", columns, got, b.String())
		}
	}
}
