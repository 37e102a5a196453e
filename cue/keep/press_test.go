package keep

import (
	"strings"
	"testing"

	"backfield/layout/source"
)

// Messages are put into remote.toml, and all the rest of it stays as it is.
func TestPresses(t *testing.T) {
	rows := []PressRow{{"go", "note 60 channel 1"}, {"hush", "controller 64 channel 2"}}
	for name, x := range map[string]struct{ text, want string }{
		"no file":  {"", "[press]\ngo = \"note 60 channel 1\"\nhush = \"controller 64 channel 2\"\n"},
		"no table": {"midi = \"x\" # the cable", "midi = \"x\" # the cable\n\n[press]\ngo = \"note 60 channel 1\"\nhush = \"controller 64 channel 2\"\n"},
		"one row": {"# mine\n[press] # pedals\ngo = [\"note 1\", \"note 2\"] # left\nback = \"note 3\"\n[time]\nfrom = \"osc\"\n",
			"# mine\n[press] # pedals\nhush = \"controller 64 channel 2\"\ngo = \"note 60 channel 1\" # left\nback = \"note 3\"\n" +
				"[time]\nfrom = \"osc\"\n"},
		"both":     {"[press]\nhush=\"note 1\"\r\ngo='note 2'\r\n", "[press]\nhush=\"controller 64 channel 2\"\r\ngo=\"note 60 channel 1\"\r\n"},
		"inline":   {"press = { go = \"note 2\", hush = \"note 3\" }\n", "press = { go = \"note 60 channel 1\", hush = \"controller 64 channel 2\" }\n"},
		"a jump":   {"[[press.jump]]\non = \"note 1\"\nto = \"2\"\n", "[[press.jump]]\non = \"note 1\"\nto = \"2\"\n\n[press]\ngo = \"note 60 channel 1\"\nhush = \"controller 64 channel 2\"\n"},
		"dotted":   {"press.go = \"note 1\"\npress.hush = \"note 2\"\n", "press.go = \"note 60 channel 1\"\npress.hush = \"controller 64 channel 2\"\n"},
		"an empty": {"[press]", "[press]\ngo = \"note 60 channel 1\"\nhush = \"controller 64 channel 2\""},
	} {
		f := &source.File{Name: "remote.toml", Text: x.text}
		h, err := Presses(f, rows)
		if got := Apply(f, []Hunk{h}); err != nil || got != x.want {
			t.Errorf("%s: %v\n%s\nwant\n%s", name, err, got, x.want)
		}
	}
	f := &source.File{Name: "remote.toml", Text: "[press\n"}
	if _, err := Presses(f, rows); err == nil || !strings.Contains(err.Error(), "remote.toml:1") {
		t.Errorf("%v", err)
	}
}
