package score

import (
	"strings"
	"testing"

	"backfield/layout/level"
)

// Each mistake in what levels need is reported at its place, alone.
func TestLoudMistakes(t *testing.T) {
	const seven = "[0, 0, 0, 0, 0, 0, 0]"
	const kazoo = "[instruments.kazoo]\npower = 90\nspectrum = " + seven + "\n"
	cue := func(keys string) string { return head + tempo + "[[cue]]\nid = \"1\"\nat = \"1:1\"\n" + keys }
	for name, c := range map[string]struct{ text, want string }{
		"fine":               {cue("facing = { \"@tuba\" = \"back\", \"Tpt 3\" = 40 }\n[mix]\nsolo = { level = 1, low_cut = 120 }\n" + kazoo), ""},
		"a facing":           {cue("facing = { \"@tuba\" = \"left\" }"), `9:22 bad-choice: unknown facing "left"; it is "box", "back", or`},
		"a wide facing":      {cue("facing = { \"@tuba\" = -181 }"), "9:22 out-of-range: a facing of -181 degrees"},
		"no table of facing": {cue("facing = \"back\""), "9:10 wrong-type"},
		"a high low cut": {cue("[mix]\nsolo = { level = 1, low_cut = 1200 }"),
			"10:31 out-of-range: a low cut, in Hz, cannot be 1200; it is 0 to 1000"},
		"a long day": {cue("[balance]\nday = \"30 h\""),
			"10:7 out-of-range: the day of 30 h is out of range (1 min to 24 h); check the number and its unit"},
		"a long day in seconds": {cue("[balance]\nday = 108000"),
			"10:7 out-of-range: the day of 108000 s is out of range (60 to 86400 s)"},
		"a low cut of a word": {cue("[mix]\nsolo = { level = 1, low_cut = \"100\" }"),
			"10:31 wrong-type: this must be a number, in Hz, or true or false where your mixer's low_cut is a switch"},
		"no power":    {cue("[instruments.kazoo]\nspectrum = " + seven), `9:1 missing-key: the key "power" is missing`},
		"no spectrum": {cue("[instruments.kazoo]\npower = 90"), `9:1 missing-key: the key "spectrum" is missing`},
		"power":       {cue(strings.Replace(kazoo, "90", "900", 1)), "10:9 out-of-range: the power of 900 dB"},
		"bell":        {cue(kazoo + "bell = \"2 ft\""), "12:8 out-of-range: the bell of"},
		"six octaves": {cue(strings.Replace(kazoo, "0, 0]", "0]", 1)),
			"11:12 out-of-range: 6 numbers, not seven; write dB for 125"},
		"a loud octave": {cue(strings.Replace(kazoo, "0]", "300]", 1)),
			"11:31 out-of-range: the spectrum at 8000 Hz cannot be 300 dB; it is -120 to 140 dB"},
		"directions from 10 degrees": {cue(kazoo + "directions = [{ angle = 10, db = " + seven + " }, { angle = 180, db = " + seven + " }]"),
			"12:25 out-of-range: the first direction is not 0 dB at 0 degrees"},
		"directions not from 0 dB": {cue(kazoo + "directions = [{ angle = 0, db = [1, 0, 0, 0, 0, 0, 0] }, { angle = 180, db = " +
			seven + " }]"), "12:25 out-of-range: the first direction is not 0 dB at 0 degrees"},
		"directions to 90": {cue(kazoo + "directions = [{ angle = 0, db = " + seven + " }, { angle = 90, db = " + seven + " }]"),
			"12:68 out-of-range: the directions end at 90 degrees, not at 180; add one at 180: straight behind"},
		"one direction": {cue(kazoo + "directions = [{ angle = 0, db = " + seven + " }]"),
			"12:25 out-of-range: the directions end at 0 degrees, not at 180"},
		"no directions": {cue(kazoo + "directions = []"), ""},
		"directions back and forth": {cue(kazoo + "directions = [{ angle = 0, db = " + seven + " }, { angle = 90, db = " + seven +
			" },\n{ angle = 80, db = " + seven + " }, { angle = 180, db = " + seven + " }]"), "13:11 out-of-range: 80 degrees cannot come after 90; write"},
		"a loud direction": {cue(kazoo + "directions = [{ angle = 0, db = " + seven + " }, { angle = 180, db = [0, 0, 0, 0, 0, 0, 21] }]"),
			"12:97 out-of-range: a direction at 8000 Hz cannot be 21 dB"},
	} {
		_, got := read(c.text)
		if c.want == "" && got != "" || !strings.HasPrefix(got, c.want) || strings.Count(got, "\n") > 1 {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// What the score says of instruments, facings and low cuts.
func TestLoudKeys(t *testing.T) {
	s, problems := read(head + tempo + "[[cue]]\nid = \"1\"\nat = \"1:1\"\nfacing = { \"@tuba\" = \"back\", A = -40, B = \"box\" }\n" +
		"[mix]\nsolo = { level = 1, low_cut = 120 }\npad = { level = 0, low_cut = true }\nfull = -3\n" +
		"[instruments.kazoo]\npower = \"90 dB\"\nbell = \"2 cm\"\nspectrum = [-1, -2, -3, -4, -5, -6, -7]\n" +
		"directions = [{ angle = 0, db = [0, 0, 0, 0, 0, 0, 0] }, { angle = 180, db = [0, -2, -4, -6, -8, -10, -40] }]\n")
	if problems != "" {
		t.Fatal(problems)
	}
	f := s.Cues[0].Facing
	if len(f) != 3 || f[0].Of.V != "@tuba" || f[0].Facing != level.Back || f[1].Facing.Deg != -40 || f[2].Facing.Given {
		t.Errorf("facing: %+v", f)
	}
	if *s.Roles[0].LowCutHz != 120 || s.Roles[1].LowCutHz != nil || s.Roles[2].LowCutHz != nil {
		t.Errorf("low cuts: %+v", s.Roles)
	}
	for i, want := range []int{1, 1, 0} { // for the mixer, should it have such a parameter
		if got := len(s.Roles[i].Params); got != want {
			t.Errorf("%s has %d parameters, want %d", s.Roles[i].Name, got, want)
		}
	}
	i := s.Instruments[0]
	if i.Name != "kazoo" || i.PowerDB != 90 || i.BellM != 0.02 || i.ShapeDB != (level.Bands{-1, -2, -3, -4, -5, -6, -7}) ||
		i.Measured.DB[1][90] != -1 || i.Measured.DB[6][180] != -30 {
		t.Errorf("%+v", i.Instrument)
	}
}
