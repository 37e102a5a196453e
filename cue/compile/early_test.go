package compile

import (
	"strings"
	"testing"

	"backfield/cue"
)

// A mic that opens early is closed in the snapshot before its cue, which says when it opens and how: by the count, at
// the cue's level, and with a fade that is over when the cue's count comes.
func TestOpensEarly(t *testing.T) {
	second := "[[movement]]\nwait = 5\ntempo = 60\n"
	for name, c := range map[string]struct {
		cues   string
		change func(f *files)
		cue    string            // which says so
		want   *cue.EarlyOpening // of channel 1
		warn   string
	}{
		"by the cue, with a long fade": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen_early = 2\nfade = 4\nopen.support = [\"A\"]\n",
			nil, "1", &cue.EarlyOpening{Movement: 1, Count: 7, TimeS: 3, Player: "A", Role: "support", LevelDB: -9, FadeS: 1}, ""},
		"with a short fade": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen_early = 2\nfade = 1\nopen.feature = [\"A\"]\n",
			nil, "1", &cue.EarlyOpening{Movement: 1, Count: 7, TimeS: 3, Player: "A", Role: "feature", FadeS: 0.5}, ""},
		"by the role": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen.solo = [\"A\"]\n",
			func(f *files) {
				f.score = strings.Replace(f.score, "feature = 0", "feature = 0\nsolo = { level = 2, open_early = 0.5 }", 1)
			}, "1", &cue.EarlyOpening{Movement: 1, Count: 8.5, TimeS: 3.75, Player: "A", Role: "solo", LevelDB: 2}, ""},
		"not by the role, as the cue says": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen_early = 0\nopen.solo = [\"A\"]\n",
			func(f *files) {
				f.score = strings.Replace(f.score, "feature = 0", "feature = 0\nsolo = { level = 2, open_early = 0.5 }", 1)
			}, "1", nil, ""},
		"no sooner than the cue before": {"[[cue]]\nid = \"2\"\nat = \"1:2\"\nopen_early = 4\nfade = 9\nopen.feature = [\"A\"]\n",
			nil, "1", &cue.EarlyOpening{Movement: 1, Count: 1, TimeS: 0, Player: "A", Role: "feature", FadeS: 0.5},
			`cue "2" cannot open A as early as open_early says: it cannot open before cue 1`},
		"in the wait before a downbeat": {"[[cue]]\nid = \"2\"\nat = \"2:2\"\nopen_early = 3\nfade = 1\nopen.feature = [\"A\"]\n",
			func(f *files) {
				f.score += second
				f.sets += "4,2,0,0\n5,2,8,0\n"
				f.dots += "4,A,0,32\n4,B,-16,40\n4,C,16,40\n5,A,0,32\n5,B,-16,40\n5,C,16,40\n"
			}, "1", &cue.EarlyOpening{Movement: 2, Count: -1, TimeS: 19, Player: "A", Role: "feature", FadeS: 1}, ""},
		"open already": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen_early = 2\nopen.feature = [\"A\", \"B\"]\n",
			nil, "2", nil, ""},
		"another has the channel": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen.feature = [\"C\"]\n[[cue]]\nid = \"3\"\n" +
			"at = \"set 2\"\nopen_early = 2\nopen.feature = [\"A\"]\n",
			func(f *files) {
				f.roster = "player,section,pack,channel,from\nC,baritone,P1,1,\nB,trumpet,P2,2,\nA,trumpet,P1,1,set 2\n"
			}, "2", nil, `cue "3" cannot open A as early as open_early says: C has the channel open until then`},
		"another wears the pack": {"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen.feature = [\"C\"]\n[[cue]]\nid = \"3\"\n" +
			"at = \"1:13\"\nopen.feature = [\"B\"]\n[[cue]]\nid = \"4\"\nat = \"set 2 + 1\"\nopen_early = 2\nopen.feature = [\"A\"]\n",
			func(f *files) {
				f.roster = "player,section,pack,channel,from\nC,baritone,P1,1,\nB,trumpet,P2,2,\nA,trumpet,P1,1,set 2\n"
			}, "3", nil, `cue "4" cannot open A as early as open_early says: somebody else wears the pack until then`},
		"nothing before": {"", func(f *files) {
			f.score = strings.Replace(f.score, "feature = 0", "feature = { level = 0, open_early = 1 }", 1)
		}, "1", nil, `cue "1" cannot open B as early as open_early says: no cue comes before it`},
	} {
		f := base
		if c.change != nil {
			c.change(&f)
		}
		f.score += "[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"B\"]\n" + c.cues
		r, p := f.compile(t)
		if r.Show == nil {
			t.Fatalf("%s: %s", name, said(p))
		}
		got := channelOf(t, r, c.cue, 1)
		switch {
		case (got.Early == nil) != (c.want == nil), got.Early != nil && *got.Early != *c.want:
			t.Errorf("%s: got %+v, want %+v", name, got.Early, c.want)
		case got.Early != nil && got.Open:
			t.Errorf("%s: the channel is open in the cue before", name)
		case c.warn != "" && !strings.Contains(said(p), c.warn), c.warn == "" && strings.Contains(said(p), "early-cut"):
			t.Errorf("%s: said\n%swant %q", name, said(p), c.warn)
		}
		if last := r.Show.Cues[len(r.Show.Cues)-1]; c.want != nil {
			for _, ch := range last.Channels {
				if ch.Channel == 1 && (!ch.Open || ch.LevelDB != c.want.LevelDB || ch.DelayMS != got.DelayMS) {
					t.Errorf("%s: the cue itself has %+v", name, ch)
				}
			}
		}
	}
}

// What closes takes the fade, or the fade_out if there is one.
func TestFadeOut(t *testing.T) {
	for keys, want := range map[string]struct {
		out     cue.FadeTime
		written bool
		words   string
	}{
		"":                          {cue.FadeTime{}, false, ""},
		"fade = 2\n":                {cue.FadeTime{Counts: 2, S: 1}, false, "fade 2 counts (1.00 s)"},
		"fade = 2\nfade_out = 2\n":  {cue.FadeTime{Counts: 2, S: 1}, false, "fade 2 counts (1.00 s)"},
		"fade = 2\nfade_out = 0\n":  {cue.FadeTime{}, true, "fade 2 counts (1.00 s), out 0 counts (0.00 s)"},
		"fade_out = 8\n":            {cue.FadeTime{Counts: 8, S: 4}, true, "fade out 8 counts (4.00 s)"},
		"fade = 1\nfade_out = 16\n": {cue.FadeTime{Counts: 16, S: 8}, true, "fade 1 count (0.50 s), out 16 counts (8.00 s)"},
	} {
		f := base
		f.score += "[[cue]]\nid = \"1\"\nat = \"1:1\"\n" + keys + "open.feature = [\"A\"]\n"
		s := f.show(t).Show.Cues[0]
		if s.Closing() != want.out || (s.FadeOut != nil) != want.written || s.FadeWords(true) != want.words {
			t.Errorf("%q: %+v, written %t, %q", keys, s.Closing(), s.FadeOut != nil, s.FadeWords(true))
		}
	}
}
