package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/verb"
)

// messagesOf is all that a show sends, compiled.
func messagesOf(t *testing.T, dir string) string {
	t.Helper()
	out := t.TempDir()
	if code, _, talk := runIn(t, "compile", dir, "-o", out); code != verb.ExitFine {
		t.Fatal(talk)
	}
	text, err := os.ReadFile(filepath.Join(out, "messages.txt"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The show whose drill is a spreadsheet is, with what import writes of it, the same show to the last message.
func TestImportedIsTheSameShow(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../examples/mill")
	want := messagesOf(t, dir)
	if code, _, talk := runIn(t, "import", filepath.Join(dir, "drill.xlsx"), "--guess", "--yes", "-o",
		dir); code != verb.ExitFine {
		t.Fatal(talk)
	}
	path := filepath.Join(dir, "show.toml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok1 := strings.Cut(string(text), "[drill]")
	_, after, ok2 := strings.Cut(rest, "[mix]")
	if !ok1 || !ok2 {
		t.Fatal("the example has no [drill] before [mix]")
	}
	if err := os.WriteFile(path, []byte(before+"drill = { sets = \"sets.csv\", dots = \"dots.csv\" }\n[mix]"+after),
		0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, "drill.xlsx")); err != nil {
		t.Fatal(err)
	}
	if got := messagesOf(t, dir); got != want {
		t.Errorf("other messages than before")
	}
}

// A drill and a roster as another program saves them compile to the same as the example's own files. Where those came
// from is told beside them.
func TestWorkbooksOfAnotherProgram(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../examples/mill")
	want := messagesOf(t, dir)
	for _, name := range []string{"drill.xlsx", "roster.xlsx"} {
		book, err := os.ReadFile(filepath.Join("../../testdata/workbooks", name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), book, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	score := filepath.Join(dir, "show.toml")
	text, err := os.ReadFile(score)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(score, []byte(strings.Replace(string(text), `roster = "roster.csv"`,
		`roster = "roster.xlsx"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, "roster.csv")); err != nil {
		t.Fatal(err)
	}
	if got := messagesOf(t, dir); got != want {
		t.Error("other messages than of the example's own files")
	}
}
