package run

import (
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for line, want := range map[string]string{
		"go": "go", " GO ": "go", "back": "back", `jump 12A`: "jump 12A", "jump set 14 + 4": "jump set 14 + 4",
		`hold "Tpt 3"`: `hold "Tpt 3"`, `hold " Tpt 3 "`: `hold "Tpt 3"`, "hold Tpt 3": `hold "Tpt 3"`,
		"release 14": "release 14", `swap "Tpt 3" to 21`: `swap "Tpt 3" to 21`,
		"swap Tpt 3 to 21": `swap "Tpt 3" to 21`, `swap "Tpt 3" 21`: `swap "Tpt 3" to 21`, "swap tuba back": "swap tuba back",
		`nudge "Tpt 3" +1.5`: `nudge "Tpt 3" +1.5`, "nudge Tpt 3 -2 dB": `nudge "Tpt 3" -2`, "nudge a 1dB": "nudge a +1",
	} {
		c, err := Parse(line)
		if err != nil || c.String() != want {
			t.Errorf("%q is %q, %v, want %q", line, c, err, want)
		}
	}
	for line, want := range map[string]string{
		"": "no command; type one of", "goo": "the commands are go, back", "go 5": "type: jump 5",
		"skip": "the commands are", "panic": "type hush", "mute": "type hush", "cue 5": "type jump 5", "q": "type quit",
		"to 12A": "is now \"jump\"", "restore": "is now \"unhush\"",
		"swap a": "type it like this: swap", "swap a to x": "type it like this",
		"nudge a": "type it like this: nudge", "nudge a +13": "one nudge can be -12 to +12 dB",
		"nudge a 1x": "type it like this", "nudge a nan": "type it like this", `hold "a`: "closing quote is missing",
		"hold": "type it like this", `hold " "`: "type it like this", `jump "  "`: "type it like this",
		`swap " " to 4`: "type it like this", "go\x01": "cannot be typed",
	} {
		if c, err := Parse(line); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v, want %s", line, c, err, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, form := range forms {
		f.Add(strings.Split(form.text, "   (")[0])
	}
	f.Fuzz(func(t *testing.T, line string) {
		c, err := Parse(line)
		if err != nil {
			return
		}
		again, err := Parse(c.String())
		if err != nil || again.Verb != c.Verb || again.Channel != c.Channel || again.DB != c.DB ||
			strings.Join(strings.Fields(again.Name), " ") != strings.Join(strings.Fields(c.Name), " ") {
			t.Errorf("%q is %+v, written %q, read again %+v, %v", line, c, c, again, err)
		}
	})
}
