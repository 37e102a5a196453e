package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const kites = "../../examples/kites"

// parts writes what it guesses once, keeps the comments, and then has nothing to ask.
func TestParts(t *testing.T) {
	t.Parallel()
	dir := copied(t, kites)
	score := filepath.Join(dir, "show.toml")
	replace(t, score, "[music.parts]\n\"Trumpet\" = [\"@trumpet\"]\n\"Mellophone\" = [\"@mellophone\"]\n\n", "")
	code, out, talk := runIn(t, "parts", dir, "--yes")
	if code != 0 || !strings.Contains(out, "@trumpet   (a guess)") || !strings.Contains(out, "written: "+score) {
		t.Fatalf("%d\n%s%s", code, out, talk)
	}
	text, err := os.ReadFile(score)
	if err != nil {
		t.Fatal(err)
	}
	original, err := os.ReadFile(kites + "/show.toml")
	if err != nil {
		t.Fatal(err)
	}
	if string(text) != string(original) {
		t.Errorf("the score is now\n%s", text)
	}
	if code, out, _ := runIn(t, "parts", dir); code != 0 || strings.Contains(out, "guess") || strings.Contains(out, "Write it") {
		t.Errorf("again: %d\n%s", code, out)
	}
	if code, _, talk := runIn(t, "parts", harbor); code != 2 || !strings.Contains(talk, "no movement takes its tempo from a file") {
		t.Errorf("without music: %d %s", code, talk)
	}
}
