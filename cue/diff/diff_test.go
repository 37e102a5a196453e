package diff_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/diff"
)

var update = flag.Bool("update", false, "write the golden texts again")

// harbor is a small show: four worn mics and a field mic, four cues.
func harbor() *cue.Show {
	steps := func(x, y float64) cue.Location { return cue.Location{X: x * 0.5715, Y: y * 0.5715, Z: 1.5} }
	worn := func(n int, player, role string, level, pan, delay, x, y float64) cue.Channel {
		c := cue.Channel{Channel: n, Player: player, Kind: cue.Worn, Role: role, Open: role != "",
			LevelDB: cue.Level(level), Pan: pan, DelayMS: delay, Location: steps(x, y), End: steps(x, y), Notes: []string{}}
		if role == "" {
			c.LevelDB = cue.Silent
		}
		return c
	}
	picture := func(id, name string, movement int, count, second float64, channels ...cue.Channel) cue.Snapshot {
		return cue.Snapshot{ID: id, At: fmt.Sprintf("%d:%g", movement, count), Movement: movement, Count: count, Set: "7",
			TimeS: second, Name: name, FadeCounts: 2, FadeS: 0.9, Channels: channels}
	}
	return &cue.Show{
		Format: cue.Format, Title: "Harbor Lights", Venue: "home", AirC: 24, SoundMPS: 345.5,
		Rig: cue.UsedRig{
			LatencyMS: 4.2, Reference: cue.Location{Y: -36.6, Z: 18.3},
			Stacks: []cue.UsedStack{
				{Name: "outer left", Location: cue.Location{X: -24, Y: -2, Z: 2.5}, Left: 1},
				{Name: "outer right", Location: cue.Location{X: 24, Y: -2, Z: 2.5}, Right: 1},
			},
			Delay: cue.Settings{Policy: "most-seats", LeadMS: 10, PanLaw: "constant-power", PanWidth: 0.8},
		},
		Cues: []cue.Snapshot{
			picture("1", "fog", 1, 1, 0,
				worn(3, "Tpt 3", "feature", 0, -0.2, 62.3, -20, 40), worn(4, "Tpt 4", "", 0, 0.1, 70, 8, 44),
				worn(12, "Mello 1", "support", -9, 0.3, 81.4, 30, 60), worn(13, "Mello 2", "support", -9, 0.36, 84.9, 34, 62)),
			picture("1A", "trumpet over the low brass", 1, 33, 14.5,
				worn(3, "Tpt 3", "feature", 1.5, -0.12, 50, -12, 30), worn(4, "Tpt 4", "", 0, 0.1, 70, 8, 44),
				worn(12, "Mello 1", "support", -9, 0.3, 81.4, 30, 60), worn(13, "Mello 2", "", 0, 0.36, 84.9, 34, 62)),
			picture("2", "", 2, 41, 60,
				worn(3, "Tpt 3", "", 0, -0.12, 50, -12, 30), worn(4, "Tpt 4", "feature", 0, 0.1, 70, 8, 44),
				worn(12, "Mello 1", "support", -9, 0.3, 81.4, 30, 60), worn(13, "Mello 2", "support", -9, 0.36, 84.9, 34, 62)),
			picture("3", "harbor", 2, 97, 84,
				worn(3, "Tpt 3", "feature", 0, -0.12, 50, -12, 30), worn(4, "Tpt 4", "feature", 0, 0.1, 70, 8, 44),
				worn(12, "Mello 1", "", 0, 0.3, 81.4, 30, 60), worn(13, "Mello 2", "", 0, 0.36, 84.9, 34, 62)),
		},
	}
}

// at returns the channel of a show's nth cue, to be changed in place.
func at(s *cue.Show, n, channel int) *cue.Channel {
	for i := range s.Cues[n].Channels {
		if c := &s.Cues[n].Channels[i]; c.Channel == channel {
			return c
		}
	}
	panic("no such channel")
}

// walk moves a channel's mic by steps from where it stood, its end with it.
func walk(c *cue.Channel, x, y float64) {
	c.X, c.Y = c.X+x*0.5715, c.Y+y*0.5715
	c.End.X, c.End.Y = c.End.X+x*0.5715, c.End.Y+y*0.5715
}

func open(c *cue.Channel, role string, level float64) {
	c.Open, c.Role, c.LevelDB = true, role, cue.Level(level)
}

func shut(c *cue.Channel) { c.Open, c.Role, c.LevelDB = false, "", cue.Silent }

func text(r *diff.Comparison) string {
	var b strings.Builder
	r.Text(&b)
	return b.String()
}

// week is a full week's changes: something of everything.
func week(s *cue.Show) {
	s.Venue, s.AirC = "away", 31
	s.Rig.Stacks[0].X -= 1
	s.Rig.Stacks = append(s.Rig.Stacks, cue.UsedStack{Name: "center", Left: 0.7, Right: 0.7})
	s.Rig.Delay.LeadMS = 12

	c := at(s, 0, 3)
	walk(c, -2, 6)
	c.DelayMS, c.Pan = 68.5, -0.32
	at(s, 0, 12).DelayMS = 80.9
	at(s, 0, 13).LevelDB = -7.5
	at(s, 0, 4).DelayMS = 69.5

	c = at(s, 1, 3)
	c.Role, c.LevelDB = "support", -9
	shut(at(s, 1, 12))
	open(at(s, 1, 4), "feature", 0)
	s.Cues[1].Name = "trumpets"
	s.Cues[1].FadeCounts, s.Cues[1].FadeS = 4, 1.8

	s.Cues[2].Count, s.Cues[2].TimeS = 49, 63.5
	for n := range s.Cues {
		at(s, n, 13).Player = "Bari 2"
	}
	at(s, 2, 13).DelayMS = 91

	extra := s.Cues[3]
	extra.ID, extra.Name, extra.Count = "2B", "hush", 65
	s.Cues = slices.Insert(s.Cues, 3, extra)
}

func TestGolden(t *testing.T) {
	cases := []struct {
		name   string
		change func(*cue.Show)
		full   bool
	}{
		{"week", week, false},
		{"week-full", week, true},
		{"night", func(s *cue.Show) { // only the air is another
			s.AirC = 16
			for n := range s.Cues {
				for i := range s.Cues[n].Channels {
					s.Cues[n].Channels[i].DelayMS += 1.1
				}
			}
		}, false},
		{"order", func(s *cue.Show) {
			s.Cues = []cue.Snapshot{s.Cues[2], s.Cues[0], s.Cues[3]}
		}, false},
	}
	wanted := map[string]bool{}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := harbor()
			c.change(s)
			r := diff.Compare(harbor(), s)
			r.Full = c.full
			got := text(r)
			file := filepath.Join("testdata", c.name+".txt")
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("%s differs; got\n%s\nwant\n%s", file, got, want)
			}
		})
		wanted[c.name+".txt"] = true
	}
	files, err := filepath.Glob("testdata/*.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !wanted[filepath.Base(f)] {
			t.Errorf("%s belongs to no case", f)
		}
	}
}

// TestLines has one change for each case, and the lines that must say it.
func TestLines(t *testing.T) {
	cases := []struct {
		name   string
		change func(*cue.Show)
		want   []string
		not    []string
	}{
		{"opened", func(s *cue.Show) { open(at(s, 0, 4), "feature", 0) },
			[]string{"1 cue and 1 channel differ; largest: cue 1 Tpt 4 opened",
				"  4 Tpt 4  opened as feature at 0.0 dB, pan R 0.10, delay 70.0 ms"}, []string{"why"}},
		{"closed", func(s *cue.Show) { shut(at(s, 0, 3)) }, []string{"largest: cue 1 Tpt 3 closed", "  3 Tpt 3  closed\n"},
			[]string{"level"}},
		{"level", func(s *cue.Show) { at(s, 0, 3).LevelDB = 1.5 },
			[]string{"level +1.5 dB (0.0 -> 1.5)", "why: nudge, trim or role level\n",
				"largest: cue 1 Tpt 3 level +1.5 dB"}, []string{"air"}},
		{"level, from another place", func(s *cue.Show) { c := at(s, 0, 3); c.LevelDB = 1.5; walk(c, 0, 4) },
			[]string{"why: nudge, trim, role level or distance make-up\n"}, []string{"farther"}},
		{"level is not the air's", func(s *cue.Show) { s.AirC = 30; at(s, 0, 3).LevelDB = 1.5 },
			[]string{"air 24 C (75 F) -> 30 C (86 F) (delays)", "why: nudge, trim or role level\n"}, []string{"trim; air"}},
		{"role", func(s *cue.Show) { c := at(s, 0, 3); c.Role, c.LevelDB = "support", -9 },
			[]string{"level -9.0 dB (0.0 -> -9.0)\n", "why: role feature -> support\n"}, nil},
		{"role without a level", func(s *cue.Show) { at(s, 0, 3).Role = "solo"; at(s, 0, 3).Pan = 0 },
			[]string{"role feature -> solo\n", "pan 0.20 farther right (L 0.20 -> center)"}, nil},
		{"role level everywhere", func(s *cue.Show) {
			for n := range s.Cues {
				for i := range s.Cues[n].Channels {
					if c := &s.Cues[n].Channels[i]; c.Role == "support" {
						c.LevelDB += 1.5
					}
				}
			}
		}, []string{"role support +1.5 dB wherever it is open (levels)", "why: role level\n"}, []string{"nudge"}},
		{"pan left", func(s *cue.Show) { c := at(s, 0, 3); c.Pan = -0.32; walk(c, -3, 0) },
			[]string{"pan 0.12 farther left (L 0.20 -> L 0.32)", "why: 3.0 steps toward side 1\n",
				"largest: cue 1 Tpt 3 pan 0.12 farther left"}, nil},
		{"pan right over the center", func(s *cue.Show) { at(s, 0, 3).Pan = 0.205 },
			[]string{"pan 0.405 farther right (L 0.20 -> R 0.205)"}, nil},
		{"pan is not the air's", func(s *cue.Show) { s.AirC = 30; at(s, 0, 3).Pan = 0 },
			[]string{"why: for a reason that is not in the snapshots"}, []string{"; air"}},
		{"delay, farther back", func(s *cue.Show) { c := at(s, 0, 3); c.DelayMS = 65.8; walk(c, -2, 6) },
			[]string{"delay 62.3 -> 65.8 ms (+3.5)\n", "why: 6.0 steps farther back and 2.0 toward side 1\n"}, nil},
		{"delay, to the front", func(s *cue.Show) { c := at(s, 0, 3); c.DelayMS = 58.8; walk(c, 2, -6) },
			[]string{"delay 62.3 -> 58.8 ms (-3.5)\n",
				"why: 6.0 steps farther to the front and 2.0 toward side 2\n"}, nil},
		{"delay, higher", func(s *cue.Show) { c := at(s, 0, 3); c.DelayMS = 62.4; c.Z += 0.4; c.End.Z += 0.4 },
			[]string{"why: 0.40 m higher\n"}, nil},
		{"delay, a hair away", func(s *cue.Show) { c := at(s, 0, 3); c.DelayMS = 62.4; walk(c, 0.01, 0) },
			[]string{"why: less than 0.1 steps away\n"}, nil},
		{"delay, walks elsewhere", func(s *cue.Show) { c := at(s, 0, 3); c.DelayMS = 65; c.End.Y += 4 * 0.5715 },
			[]string{"why: walks differently before the next cue, ends 4.0 steps farther back\n"}, []string{"why: 4.0"}},
		{"delay, starts elsewhere and ends alike", func(s *cue.Show) { c := at(s, 0, 3); c.DelayMS = 65; c.Y += 4 * 0.5715 },
			[]string{"why: 4.0 steps farther back; walks differently before the next cue, ends at the same place\n"}, nil},
		{"delay, unexplained", func(s *cue.Show) { at(s, 0, 3).DelayMS = 65 },
			[]string{"why: for a reason that is not in the snapshots " +
				"(stands, mixer limits or steps, a policy or box of one role, player or cue)\n"}, nil},
		{"place alone is no reason for a level", func(s *cue.Show) { walk(at(s, 0, 3), 0, 8); at(s, 1, 3).Pan = 0 }, nil,
			[]string{"cue 1 \"fog\"", "farther back"}},
		{"latency", func(s *cue.Show) { s.Rig.LatencyMS = 6; at(s, 0, 3).DelayMS = 60.5 },
			[]string{"latency 4.2 -> 6.0 ms (delays)", "why: rig\n"}, nil},
		{"reference", func(s *cue.Show) { s.Rig.Reference.X = 2; at(s, 0, 3).Pan = -0.21 },
			[]string{"reference seat moved 2.00 m toward side 2 (delays, pans)", "why: rig\n"}, nil},
		{"stack moved", func(s *cue.Show) { s.Rig.Stacks[1].Y = -4; at(s, 0, 3).Pan = -0.21 },
			[]string{`stack "outer right" moved 2.00 m farther to the front (delays, pans)`, "why: rig\n"}, nil},
		{"stack removed", func(s *cue.Show) { s.Rig.Stacks = s.Rig.Stacks[:1]; at(s, 0, 3).Pan = -0.21 },
			[]string{`stack "outer right" removed (delays, pans)`, "why: rig\n"}, nil},
		{"stack trim and weights", func(s *cue.Show) {
			s.Rig.Stacks[0].TrimDB, s.Rig.Stacks[0].Right = -3, 0.5
			at(s, 0, 3).Pan = -0.21
		}, []string{
			`stack "outer left" trim 0.0 -> -3.0 dB`, `stack "outer left" left and right 1.0, 0.0 -> 1.0, 0.5`, "why: rig\n",
		}, nil},
		{"stack delay moves no pan", func(s *cue.Show) { s.Rig.Stacks[0].DelayMS = 5; at(s, 0, 3).Pan = -0.21 },
			[]string{`stack "outer left" delay 0.0 -> 5.0 ms (delays)`}, []string{"why: rig"}},
		{"policy", func(s *cue.Show) { s.Rig.Delay.Policy = "reference"; at(s, 0, 3).DelayMS = 60 },
			[]string{"delay policy most-seats -> reference (delays)", "why: settings\n"}, nil},
		{"lead", func(s *cue.Show) { s.Rig.Delay.LeadMS = 12.5; at(s, 0, 3).DelayMS = 64.8 },
			[]string{"lead 10.0 -> 12.5 ms (delays)", "why: settings\n"}, nil},
		{"pan law", func(s *cue.Show) { s.Rig.Delay.PanLaw = "linear"; at(s, 0, 3).Pan = -0.3 },
			[]string{"pan law constant-power -> linear (delays, pans)", "why: settings\n"}, nil},
		{"two reasons", func(s *cue.Show) {
			s.AirC, s.Rig.LatencyMS = 30, 5
			c := at(s, 0, 3)
			c.DelayMS = 66
			walk(c, 0, 2)
		},
			[]string{"why: 2.0 steps farther back; air; rig\n"}, nil},
		{"fade in counts", func(s *cue.Show) { s.Cues[0].FadeCounts, s.Cues[0].FadeS = 4, 1.8 },
			[]string{"1 cue differs\n", "fade 2 -> 4 counts (0.9 -> 1.8 s)"}, nil},
		{"fade of one count", func(s *cue.Show) { s.Cues[0].FadeCounts, s.Cues[0].FadeS = 1, 0.45 },
			[]string{"fade 2 -> 1 count (0.9 -> 0.45 s)"}, nil},
		{"fade by tempo", func(s *cue.Show) { s.Cues[0].FadeS = 1.1 },
			[]string{"fade 0.9 -> 1.1 s (the same 2 counts: tempo)"}, nil},
		{"moved in the music", func(s *cue.Show) { s.Cues[2].Count = 49; at(s, 2, 4).Pan = 0 },
			[]string{"comes 8 counts later (2:41 -> 2:49)"}, nil},
		{"one count earlier", func(s *cue.Show) { s.Cues[2].Count = 40; at(s, 2, 4).Pan = 0 },
			[]string{"comes 1 count earlier (2:41 -> 2:40)"}, nil},
		{"another movement", func(s *cue.Show) { s.Cues[2].Movement, s.Cues[2].Count = 3, 1.5; at(s, 2, 4).Pan = 0 },
			[]string{"is in another movement (2:41 -> 3:1.5)"}, nil},
		{"tempo", func(s *cue.Show) { s.Cues[2].TimeS -= 2; at(s, 2, 4).Pan = 0 },
			[]string{"comes 2.0 s earlier at the same count (tempo or pauses)"}, nil},
		{"renamed", func(s *cue.Show) { s.Cues[0].Name = "mist"; at(s, 0, 3).Pan = 0 }, []string{`renamed "fog" -> "mist"`},
			nil},
		{"removed", func(s *cue.Show) { s.Cues = slices.Delete(s.Cues, 1, 2) },
			[]string{"1 cue removed\n", `cue 1A "trumpet over the low brass" (1:33) removed`}, []string{"cue 2"}},
		{"cues", func(s *cue.Show) {
			for n := range s.Cues {
				at(s, n, 3).Pan += 0.5
			}
		}, []string{"4 cues and 1 channel differ"}, nil},
		{"cues, and no channel that is heard", func(s *cue.Show) { s.Cues[0].FadeS, s.Cues[1].FadeS = 1, 1 },
			[]string{"2 cues differ\n"}, nil},
		{"cues that came", func(s *cue.Show) {
			for _, id := range []string{"4", "5"} {
				c := s.Cues[3]
				c.ID = id
				s.Cues = append(s.Cues, c)
			}
		}, []string{"2 cues added\n"}, []string{"removed"}},
		{"only closed channels", func(s *cue.Show) { at(s, 0, 4).Pan = 0.2; at(s, 0, 4).DelayMS = 71 },
			[]string{"1 cue differs\n", "closed channels move: 1 (pan/delay for their next entry)\n"}, []string{"Tpt 4"}},
		{"a channel more", func(s *cue.Show) {
			for n := range s.Cues {
				s.Cues[n].Channels = append(s.Cues[n].Channels, cue.Channel{Channel: 40, Player: "Flg 1", LevelDB: cue.Silent})
			}
			open(at(s, 1, 40), "feature", -3)
		}, []string{
			"channel 40 is new: Flg 1",
			" 40 Flg 1  opened as feature at -3.0 dB, pan center, delay 0.0 ms, on a new channel",
		}, nil},
		{"a channel more, never open", func(s *cue.Show) {
			s.Cues[0].Channels = append(s.Cues[0].Channels, cue.Channel{Channel: 40, Player: "Flg 1", LevelDB: cue.Silent})
		}, []string{"the mixer's channels differ\n", "channel 40 is new: Flg 1"}, nil},
		{"a channel less", func(s *cue.Show) {
			for n := range s.Cues {
				s.Cues[n].Channels = s.Cues[n].Channels[1:]
			}
		}, []string{"3 cues and 1 channel differ", "channel 3 is gone (Tpt 3)", "closed: the channel is gone"}, nil},
		{"pack handed over", func(s *cue.Show) {
			at(s, 0, 3).Player = "Tpt 5"
			at(s, 0, 3).DelayMS = 66
			walk(at(s, 0, 3), 0, 9)
		},
			[]string{"channel 3: pack handed over, Tpt 3 -> Tpt 5",
				"why: Tpt 5 is elsewhere than Tpt 3\n"}, []string{"steps"}},
		{"two players who share a pack", func(s *cue.Show) {
			at(s, 0, 3).Player, at(s, 0, 3).DelayMS, at(s, 1, 3).Pan = "Tpt 5", 66, 1
		},
			[]string{"2 cues and 1 channel (2 mics, since some share a channel) differ"}, nil},
		{"a pack for nobody", func(s *cue.Show) { at(s, 0, 3).Player, at(s, 0, 3).DelayMS = "", 66 },
			[]string{"worn by nobody now, was Tpt 3"}, []string{"handed over", "elsewhere"}},
		{"a player on another channel", func(s *cue.Show) {
			name := at(s, 0, 3).Player
			shut(at(s, 0, 3))
			at(s, 0, 3).Player = ""
			s.Cues[0].Channels = append(s.Cues[0].Channels, cue.Channel{Channel: 40, Player: name})
			open(at(s, 0, 40), "feature", -3)
		}, []string{
			"3 Tpt 3  closed: switches to channel 40\n",
			"40 Tpt 3  switches from channel 3 to channel 40, 0 to -3 dB, opened as feature at -3.0 dB",
			", on a new channel\n",
		}, []string{"handed over"}},
		{"silent and open", func(s *cue.Show) { at(s, 0, 3).LevelDB = cue.Silent }, []string{"level 0.0 -> -inf dB"},
			[]string{"NaN"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := harbor()
			c.change(s)
			got := text(diff.Compare(harbor(), s))
			if got == "" {
				t.Fatal("nothing is said")
			}
			for _, w := range c.want {
				if !strings.Contains(got, w) {
					t.Errorf("%q is not in\n%s", w, got)
				}
			}
			for _, w := range c.not {
				if strings.Contains(got, w) {
					t.Errorf("%q is in\n%s", w, got)
				}
			}
		})
	}
}
