package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/verb"
)

// balance.md shows what balance prints of the demo.
func TestHelpQuotesBalance(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"balance", harbor}, {"balance", harbor, "10"}} {
		code, out, talk := said(t, args...)
		if code != verb.ExitFine {
			t.Fatalf("%v: %d\n%s%s", args, code, out, talk)
		}
		lines := []string{strings.TrimSuffix(out, "\n")}
		if len(args) == 2 {
			lines = linesLike(out, "(cue|10|11|22|28)  .*")
		}
		quoted(t, "balance", lines...)
	}
}

// Who pastes the proposed lines where balance says has the files that balance --apply writes, other than the indent; and
// they compile.
func TestPastedLinesAreThoseOfApply(t *testing.T) {
	t.Parallel()
	readings := "\n[levels]\nnoise = { stack = \"outer left\", dba = 70 }\n" +
		"brass = { section = \"trumpet\", set = \"7\", dba = 74 }\n"
	night := func() string {
		dir := smallDemo(t)
		rig := filepath.Join(dir, "rig.toml")
		text, err := os.ReadFile(rig)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(rig, append(text, readings...), 0o644); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	pasted, applied := night(), night()
	_, out, _ := said(t, "balance", pasted)
	_, block, _ := strings.Cut(out, "\nPROPOSED  lines to start from")
	place := regexp.MustCompile(`(?m)^  # (.+):([0-9]+) \(.+\), (was .*|new, below that line)\n  (.*)$`)
	found := place.FindAllStringSubmatch(block, -1)
	slices.Reverse(found) // from below, so that the lines above keep their numbers
	for _, m := range found {
		text, err := os.ReadFile(m[1])
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(string(text), "\n")
		n, err := strconv.Atoi(m[2])
		if err != nil {
			t.Fatal(err)
		}
		from := n
		if m[3] != "new, below that line" {
			from = n - 1
		}
		lines = slices.Replace(lines, from, n, m[4])
		if err := os.WriteFile(m[1], []byte(strings.Join(lines, "\n")), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if len(found) < 10 {
		t.Fatalf("only %d lines are proposed:\n%s", len(found), out)
	}
	if code, out, talk := said(t, "balance", "--apply", "--yes", applied); code != verb.ExitFine {
		t.Fatalf("%d\n%s%s", code, out, talk)
	}
	for _, name := range []string{"show.toml", "rig.toml"} {
		var texts []string
		for _, dir := range []string{pasted, applied} {
			text, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			texts = append(texts, string(text))
		}
		if texts[0] != texts[1] {
			t.Errorf("%s pasted:\n%s\napplied:\n%s", name, texts[0], texts[1])
		}
	}
	if code, out, talk := said(t, "check", pasted); code != verb.ExitFine {
		t.Errorf("%d\n%s%s", code, out, talk)
	}
}
