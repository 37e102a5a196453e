package keep

import (
	"strings"
	"testing"

	"backfield/layout/source"
	"backfield/layout/table"
)

func TestParts(t *testing.T) {
	lines := []string{PartLine("Trumpet 1", []string{"Tpt 1", "@mello"}), PartLine(`"B"`, nil)}
	const block = "\"Trumpet 1\" = [\"Tpt 1\", \"@mello\"]\n'\"B\"' = []\n"
	for name, x := range map[string]struct{ before, after string }{
		"new": {"title = \"A\"\n\n# one\n\n# two\n# three\n[[movement]]\nname = \"x\"\n",
			"title = \"A\"\n\n# one\n\n[music.parts]\n" + block + "\n# two\n# three\n[[movement]]\nname = \"x\"\n"},
		"more": {"[music.parts]\nA = []   # nobody\n\n[[movement]]\n",
			"[music.parts]\nA = []   # nobody\n" + block + "\n[[movement]]\n"},
		"empty": {"[music.parts]   # who\n[[movement]]\n", "[music.parts]   # who\n" + block + "[[movement]]\n"},
		"plain music": {"[music]   # ours\n\n[[movement]]\n", "[music]   # ours\nparts.\"Trumpet 1\" = " +
			"[\"Tpt 1\", \"@mello\"]\nparts.'\"B\"' = []\n\n[[movement]]\n"},
		"music {}": {"music = {}   # ours\n[[movement]]\n", "music = { parts = { \"Trumpet 1\" = [\"Tpt 1\", \"@mello\"]" +
			", '\"B\"' = [] } }   # ours\n[[movement]]\n"},
		"parts {}": {"[music]\nparts = { }\n[[movement]]\n", "[music]\nparts = { \"Trumpet 1\" = [\"Tpt 1\", " +
			"\"@mello\"], '\"B\"' = [] }\n[[movement]]\n"},
		"music.parts {}": {"music.parts = {}\n[[movement]]\n", "music.parts = { \"Trumpet 1\" = [\"Tpt 1\", " +
			"\"@mello\"], '\"B\"' = [] }\n[[movement]]\n"},
		"windows": {"[[movement]]\r\n", "[music.parts]\r\n" + strings.ReplaceAll(block, "\n", "\r\n") +
			"\r\n[[movement]]\r\n"},
	} {
		f := &source.File{Name: "show.toml", Text: x.before}
		h, err := Parts(f, lines)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got := Apply(f, []Hunk{h})
		if got != x.after {
			t.Errorf("%s:\n%q, want\n%q", name, got, x.after)
		}
		var p source.Problems
		parts := table.ReadTOML(&source.File{Text: got}, &p).Get("music").Get("parts")
		if p.Errors() > 0 || parts.Get("Trumpet 1") == nil || parts.Get(`"B"`) == nil {
			t.Errorf("%s: read again, it has not both parts: %v\n%s", name, p.All(), got)
		}
	}
	for _, text := range []string{"music = { parts = { A = [] } }\n[[movement]]\n", "title = \"x\"\n", "movement = [{}]\n"} {
		if _, err := Parts(&source.File{Name: "show.toml", Text: text}, lines); err == nil {
			t.Errorf("%q can be added to", text)
		}
	}
}

func TestCuesGoToTheEnd(t *testing.T) {
	f := &source.File{Name: "show.toml", Text: "title = \"x\"   # y\n\n\n"}
	h := Cues(f, "\n[[cue]]\nid = \"1\"\n")
	if got, want := Apply(f, []Hunk{h}), "title = \"x\"   # y\n\n[[cue]]\nid = \"1\"\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
