package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
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

// A show without cues gets a first score, which check accepts; one that has cues does not.
func TestSuggestCues(t *testing.T) {
	t.Parallel()
	dir := copied(t, kites)
	score := filepath.Join(dir, "show.toml")
	text, err := os.ReadFile(score)
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(string(text), "[[cue]]")
	if err := os.WriteFile(score, []byte(head), 0o644); err != nil {
		t.Fatal(err)
	}
	const want = "[[cue]]\nid   = \"3\"\nat   = \"2:1\"\nname = \"Mello 1 solo\"\nopen.feature = [\"Mello 1\"]   # alone\n" +
		"fade = 1\nopen_early = 2\n\n[[cue]]\nid   = \"4\"\nat   = \"2:m. 12 + 2\"\nname = \"all out\"\nfade = 1\n"
	code, out, talk := runIn(t, "suggest", "--cues", dir)
	if code != 0 || !strings.Contains(out, want) || !strings.Contains(talk, "4 cues to paste") {
		t.Fatalf("%d\n%s%s", code, out, talk)
	}
	if code, out, talk := runIn(t, "suggest", "--cues", "--apply", "--yes", dir); code != 0 {
		t.Fatalf("%d\n%s%s", code, out, talk)
	}
	if text, err = os.ReadFile(score); err != nil || !strings.HasSuffix(string(text), want) {
		t.Errorf("%v\n%s", err, text)
	}
	code, out, talk = runIn(t, "check", dir)
	if code != 0 || strings.Contains(out, "opens-late") || strings.Contains(out, "open-resting") {
		t.Errorf("%d\n%s%s", code, out, talk)
	}
	if code, _, talk := runIn(t, "suggest", "--cues", dir); code != 2 || !strings.Contains(talk, "has 4 cues already") {
		t.Errorf("again: %d %s", code, talk)
	}
	if code, _, talk := runIn(t, "suggest", "--yes", dir); code != 2 || !strings.Contains(talk, "go with --cues") {
		t.Errorf("--yes alone: %d %s", code, talk)
	}
}

// The page's view has when players play, in counts of the show.
func TestPageViewPlays(t *testing.T) {
	t.Parallel()
	var p source.Problems
	s, err := show.Load(show.Disk{}, filepath.Join(kites, "show.toml"), show.LoadOptions{}, &p)
	if err != nil {
		t.Fatal(err)
	}
	site := page.NewSite(nil, nil, "")
	if err := site.Update(s, p.All()); err != nil {
		t.Fatal(err)
	}
	lanes, times := s.Result.Setup.Lanes, 0
	for _, c := range viewed(t, site).Channels {
		for _, x := range c.Plays {
			times++
			if x[1] <= x[0] || !strings.HasPrefix(c.Name, "Tpt") && !strings.HasPrefix(c.Name, "Mello") {
				t.Errorf("%s plays from %g to %g", c.Name, x[0], x[1])
			}
		}
	}
	if first := lanes.Of("Tpt 1", 1); first == nil || times < len(first.Runs) {
		t.Errorf("%d times of playing", times)
	}
}
