package compile

import (
	"fmt"
	"maps"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/rules"
	"backfield/layout/source"
)

// Stands in front, so that policies and masking have seats to count.
const someSeats = "[[stands]]\nfront = { y = -12, z = 2, width = 60 }\nback = { y = -40, z = 18, width = 90 }\nrows = " +
	"6\nseats = 20\n"

// Each rule on a show that breaks it and on one that just does not; the code, the place and what is said.
func TestRules(t *testing.T) {
	cueAt := func(id, at, rest string) string { return fmt.Sprintf("[[cue]]\nid = %q\nat = %q\n%s\n", id, at, rest) }
	a := `open.feature = ["A"]`
	dots := func(x, y string) string { return strings.ReplaceAll(base.dots, "A,0,32", "A,"+x+","+y) }
	walks := func(y string) string {
		text := strings.Replace(base.dots, "2,A,0,32", "2,A,0,"+y, 1)
		return strings.Replace(text, "3,A,0,32", "3,A,0,"+y, 1)
	}
	fast := func(score string) string { return strings.Replace(score, "tempo = 120", "tempo = 200", 1) }
	crowd := "player,section,pack,channel,from,height,trim\nA,trumpet,P1,1,,,\nB,trumpet,P2,2,,,\nC,baritone,,,,,\n"
	for i := range 24 {
		crowd += fmt.Sprintf("X%d,crowd,P%d,%d,,,\n", i, i+3, i+10)
	}
	crowdDots := base.dots
	for s := 1; s <= 3; s++ {
		for i := range 24 {
			crowdDots += fmt.Sprintf("%d,X%d,%d,60\n", s, i, 2*i-24)
		}
	}
	broken, kept := map[string]bool{}, map[string]bool{}
	for name, c := range map[string]struct {
		change func(f *files)
		want   string
	}{
		"open-resting": {func(f *files) { f.plays = "A 0-8 17-32"; f.score += cueAt("1", "1:1", a) },
			`open-resting cue "1": the mic of A stays open over a rest of 9 counts, m. 3 to m. 5 beat 2`},
		"open-resting over a cue": {func(f *files) {
			f.plays = "A 0-8 20-32"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:7", a+"\nopen.support = [\"B\"]") + cueAt("3", "1:13", a)
		}, `open-resting cue "2": the mic of A stays open over a rest of 12 counts, m. 3 to m. 6`},
		"open-resting to the end": {func(f *files) { f.plays = "A 0-8"; f.score += cueAt("1", "1:1", a) },
			`stays open over a rest of 24 counts, m. 3 to m. 8 beat 5`},
		"not open-resting": {func(f *files) { f.plays = "A 0-8 16-24"; f.score += cueAt("1", "1:1", a) }, ""},
		"not open-resting, closed": {func(f *files) {
			f.plays = "A 0-8 20-32; B 8-20"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", `open.feature = ["B"]`) + cueAt("3", "1:21", a)
		}, ""},
		"opens-late under the fade": {func(f *files) {
			f.plays = "A 9-32"
			f.score += cueAt("1", "1:9", a+"\nfade = 2")
		}, `opens-late cue "1" opens the mic of A, and the first note is under the fade, at m. 3 beat 2`},
		"opens-late": {func(f *files) { f.plays = "A 6-32"; f.score += cueAt("1", "1:9", a) },
			`opens-late cue "1" opens the mic of A, and the first note is before that, at m. 2 beat 3`},
		"opens-late, early and not early enough": {func(f *files) {
			f.plays = "A 5-32"
			f.score += cueAt("1", "1:1", "") + cueAt("2", "1:9", a+"\nopen_early = 2")
		}, `opens-late cue "2" opens the mic of A, and the first note is before that, at m. 2 beat 2`},
		"not opens-late": {func(f *files) {
			f.plays = "A 8-32"
			f.score += cueAt("1", "1:1", "") + cueAt("2", "1:9", a+"\nfade = 2\nopen_early = 2")
		}, ""},
		"not opens-late, in the middle of a phrase": {func(f *files) {
			f.plays = "A 3-32"
			f.score += cueAt("1", "1:9", a)
		}, ""},
		"closes-early": {func(f *files) {
			f.plays = "A 0-18"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:17", `open.feature = ["B"]`)
		}, `closes-early cue "2" closes the mic of A 2 counts before their last note ends, at m. 5 beat 3`},
		"not closes-early": {func(f *files) {
			f.plays = "A 0-16 18-20"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:17", `open.feature = ["B"]`)
		}, ""},
		"not closes-early, in the middle of a phrase": {func(f *files) {
			f.plays = "A 0-32"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:17", `open.feature = ["B"]`)
		}, ""},
		"feature-rests": {func(f *files) {
			f.plays = "A 8-32; B 0-32"
			f.score += cueAt("1", "1:1", a+"\nopen.support = [\"B\"]") + cueAt("2", "1:9", a)
		}, `feature-rests cue "1" features A, with nothing to play from m. 1 to m. 3`},
		"not feature-rests": {func(f *files) {
			f.plays = "A 7-32; B 0-32"
			f.score += cueAt("1", "1:1", a+"\nopen.support = [\"B\"]") + cueAt("2", "1:9", a)
		}, ""},
		"delay-negative": {func(f *files) { f.dots = dots("0", "-12"); f.score += cueAt("1", "1:1", a) },
			`delay-negative cue "1": the delay of A would have to be below 0; worst: A, -22.6 ms`},
		"delay-negative by most-seats": {func(f *files) {
			f.dots, f.rig = dots("0", "-12"), f.rig+someSeats
			f.score += cueAt("1", "1:1", a)
		}, `delay-negative cue "1": the delay of A would have to be below 0; worst: A, -`},
		// early for the reference seat, and still within its bound
		"not delay-negative by most-seats": {func(f *files) {
			f.dots, f.rig = dots("0", "-2"), f.rig+someSeats
			f.score = "check.fit = 0\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		"few-in-time": {func(f *files) {
			f.dots, f.rig = dots("0", "-2"), f.rig+someSeats
			f.score += cueAt("1", "1:1", a)
		}, `few-in-time only 27 % of seats are in time, on average over the open worn mics`},
		"echo-heard": {func(f *files) {
			f.rig = strings.Replace(f.rig, "x = 20, y = -2, z = 2.5 }", "x = 20, y = -2, z = 2.5 }\ndelay = \"80 ms\"", 1) + someSeats
			f.score += cueAt("1", "1:1", a)
		}, `echo-heard many seats hear right as an echo in 1 cue: 1; worst: cue "1", A, where 61 % of the seats hear an echo`},
		"not echo-heard": {func(f *files) {
			f.rig += someSeats
			f.score = "check.fit = 0\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		// 40 steps in 4.8 s, straight back: 4.8 m/s, and the delay would have to move by 13 ms a second.
		"box-missed": {func(f *files) {
			f.dots, f.rig, f.moves = walks("72"), f.rig+someSeats, cue.Glides
			f.score = fast(f.score) + cueAt("1", "1:1", a)
		}, `box-missed cue "1": the press box hears A outside 5 to 20 ms after the player; worst: A, for 2.1 s, 27.3 ms after at 1:1`},
		"box-missed by a mixer that clicks": {func(f *files) {
			f.dots, f.rig = walks("52"), f.rig+someSeats
			f.score += cueAt("1", "1:1", a)
		}, `box-missed cue "1": the press box hears A outside 5 to 20 ms`},
		"not box-missed": {func(f *files) {
			f.dots, f.rig, f.moves = walks("52"), f.rig+someSeats, cue.Glides
			f.score = "check.fit = 0\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		// Without stands A walks 20 steps, 11.4 m, straight back in 8 s: 32.3 ms along the sloping way to the press box.
		// Then A stands for 8 s, for which the one delay is right: at the start the gap is 10 + 32.3 ms.
		"box-missed without stands": {func(f *files) {
			f.dots, f.moves = walks("52"), cue.Closed
			f.score += cueAt("1", "1:1", a)
		}, `box-missed cue "1": the press box hears A outside 5 to 20 ms after the player; worst: A, for 5.3 s, 42.3 ms after at 1:1`},
		"box-missed without stands, at a cue": {func(f *files) {
			f.dots, f.moves = walks("72"), cue.AtCues
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", a+"\nopen.support = [\"B\"]")
		}, `box-missed cue "1": the press box hears A outside 5 to 20 ms`},
		"box-missed, a lead beyond the box": {func(f *files) {
			f.dots, f.moves = walks("52"), cue.Closed
			f.score = "delay.lead = 30\n" + f.score + cueAt("1", "1:1", a)
		}, `box-missed cue "1": the press box hears A outside 5 to 30 ms after the player`},
		"not box-missed without stands": {func(f *files) {
			f.dots, f.moves = walks("52"), cue.Glides
			f.score += cueAt("1", "1:1", a)
		}, ""},
		"not box-missed, the lead is beyond the box": {func(f *files) {
			f.score = "delay.lead = 30\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		"not box-missed by a cue with its own box": {func(f *files) {
			f.dots, f.moves = walks("52"), cue.Closed
			f.score += cueAt("1", "1:1", a+"\nbox = \"free\"")
		}, ""},
		"not box-missed in a rest": {func(f *files) {
			f.dots, f.moves, f.plays = walks("52"), cue.Closed, "A 16-32"
			f.score = "check.allow = [\"open-resting\", \"feature-rests\"]\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		"slew-bound": {func(f *files) {
			f.dots, f.rig, f.moves = walks("72"), f.rig+someSeats, cue.Glides
			f.score = fast(f.score) + cueAt("1", "1:1", a)
		}, `slew-bound cue "1": the delay of A moves as fast as it may; worst: A, for 7.2 s from 1:1`},
		"not slew-bound": {func(f *files) {
			f.dots, f.rig, f.moves = walks("48"), f.rig+someSeats, cue.Glides
			f.score = "check.fit = 0\n" + fast(f.score) + cueAt("1", "1:1", a)
		}, ""},
		"delay-held": {func(f *files) {
			f.dots, f.rig = walks("60"), f.rig+someSeats
			f.score = "delay.box = \"free\"\n" + f.score + cueAt("1", "1:1", a)
		}, `delay-held cue "1": the delay of A may not glide; worst: A, whose delay has 21 % fewer of the seats in time`},
		"not delay-held": {func(f *files) {
			f.dots, f.rig, f.moves = walks("36"), f.rig+someSeats, cue.AtCues
			f.score = "check.fit = 0\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		"dip-unused": {func(f *files) {
			f.moves, f.score = cue.Glides, "delay.dip = 0.5\n"+f.score+cueAt("1", "1:1", a)
		}, "dip-unused delay.dip changes nothing: this mixer's delay glides, and needs no dips"},
		"not dip-unused": {func(f *files) {
			f.moves, f.score = cue.Glides, "delay.dip = 0\n"+f.score+cueAt("1", "1:1", a)
		}, ""},
		"not dip-unused by one that clicks": {func(f *files) {
			f.moves, f.score = cue.Closed, "delay.dip = 0.5\n"+f.score+cueAt("1", "1:1", a)
		}, ""},
		"near-stack": {func(f *files) { f.dots = dots("-35", "0"); f.score += cueAt("1", "1:1", a) },
			`near-stack cue "1", A: the open mic is 2.2 m from left at 1:1`},
		"not near-stack": {func(f *files) { f.dots = dots("-35", "4"); f.score += cueAt("1", "1:1", a) }, ""},
		"cues-close": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:2.5",
				`open.feature = ["B"]`)
		}, `cues-close cue "2" comes 0.75 s after cue "1"`},
		"not cues-close": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:3",
				`open.feature = ["B"]`)
		}, ""},
		"fade-long": {func(f *files) {
			f.score += cueAt("1", "1:1", a+"\nfade = 9") + cueAt("2", "1:9", `open.feature = ["B"]`)
		}, `fade-long cue "1" fades for 4.50 s and the next cue comes after 4.00 s`},
		"not fade-long": {func(f *files) {
			f.score += cueAt("1", "1:1", a+"\nfade = 8") + cueAt("2", "1:9", `open.feature = ["B"]`)
		}, ""},
		"fade-long by its end": {func(f *files) {
			f.score += cueAt("1", "1:1", a+"\nfade_out = 9") + cueAt("2", "1:9", `open.feature = ["B"]`)
		}, `fade-long cue "1" fades for 4.50 s and the next cue comes after 4.00 s`},
		"early-cut": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", `open.feature = ["B"]`+"\nopen_early = 8.5")
		}, `early-cut cue "2" cannot open B as early as open_early says: it cannot open before cue 1`},
		"not early-cut": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", `open.feature = ["B"]`+"\nopen_early = 8")
		}, ""},
		"near-stack before the cue": {func(f *files) {
			f.dots = strings.ReplaceAll(strings.ReplaceAll(base.dots, "1,A,0,32", "1,A,-35,0"), "2,A,0,32", "2,A,-35,32")
			f.score += cueAt("1", "1:1", `open.feature = ["B"]`) + cueAt("2", "1:5", a+"\nopen_early = 4")
		}, `near-stack cue "2", A: the open mic is 2.2 m from left at 1:1`},
		"not near-stack before the cue": {func(f *files) {
			f.moves = cue.Glides
			f.dots = strings.ReplaceAll(base.dots, "A,0,32", "A,-35,16")
			f.dots = strings.Replace(f.dots, "1,A,-35,16", "1,A,-35,0", 1)
			f.score = "check.fit = 0\n" + f.score + cueAt("1", "1:1", `open.feature = ["B"]`) + cueAt("2", "1:5", a+"\nopen_early = 2")
		}, ""},
		"handover-fast by an early opening": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,1:13\n"
			f.score = "check.handover = 4\n" + f.score + cueAt("1", "1:1", a) + cueAt("2", "1:9",
				`open.feature = ["B"]`) + cueAt("3", "1:17", `open.feature = ["C"]`+"\nopen_early = 2")
		}, `handover-fast cue "3": C needs the pack of A (channel 1) 3 s after it closes`},
		"opens-moving by an early opening": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,1:9\n"
			f.score = "check.handover = 0\n" + f.score + cueAt("1", "1:1", a) + cueAt("2", "1:9",
				`open.feature = ["B"]`) + cueAt("3", "1:11", `open.feature = ["C"]`+"\nopen_early = 2")
		}, `opens-moving cue "3", C: channel 1 opens 0.00 s after its delay or pan moved`},
		"changes-nothing": {func(f *files) { f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", a) },
			`changes-nothing cue "2" changes nothing at the mixer`},
		"handover-fast": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", `open.feature = ["B"]`) + cueAt("3", "1:17",
				`open.feature = ["C"]`)
		}, `handover-fast cue "3": C needs the pack of A (channel 1) 4 s after it closes`},
		"handover-fast after a fade": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,1:13\n"
			f.score = "check.handover = 4\n" + f.score + cueAt("1", "1:1", a) + cueAt("2", "1:9",
				`open.feature = ["B"]`+"\nfade_out = 4") + cueAt("3", "1:17", `open.feature = ["C"]`)
		}, `handover-fast cue "3": C needs the pack of A (channel 1) 2 s after it closes`},
		"handover-open": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "set 3", `open.feature = ["B"]`)
		}, `handover-open cue "1": the pack of A (channel 1) goes to another player at 1:17 while it is open`},
		"not handover-fast": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
			f.score = "check.handover = 4\n" + f.score + cueAt("1", "1:1", a) + cueAt("2", "1:9",
				`open.feature = ["B"]`) + cueAt("3", "1:17", `open.feature = ["C"]`)
		}, ""},
		"opens-moving": {func(f *files) {
			f.score = "check.press = 0\n" + strings.Replace(f.score, "tempo = 120", "tempo = 240", 1)
			f.dots = strings.ReplaceAll(base.dots, "3,A,0,32", "3,A,0,44")
			f.score += cueAt("1", "1:1", a) + cueAt("2", "set 3 - 1", `open.feature = ["B"]`) + cueAt("3", "set 3",
				`open.feature = ["A"]`)
		}, `opens-moving cue "3", A: channel 1 opens 0.25 s after its delay or pan moved`},
		"many-open": {func(f *files) {
			f.roster, f.dots = crowd, crowdDots
			f.score += cueAt("1", "1:1", `open.support = ["@crowd", "A"]`)
		}, `many-open cue "1" has 25 mics open, which costs 14.0 dB of gain before feedback`},
		"not many-open": {func(f *files) {
			f.roster, f.dots = crowd, crowdDots
			f.score += cueAt("1", "1:1", `open.support = ["@crowd"]`)
		}, ""},
		"many-open with a mic that opens early": {func(f *files) {
			f.roster, f.dots = crowd, crowdDots
			f.score += cueAt("1", "1:1", `open.support = ["@crowd"]`) +
				cueAt("2", "1:9", "open_early = 1\nopen.support = [\"@crowd\"]\nopen.feature = [\"field\"]")
		}, `many-open cue "1" has 25 mics open`},
		"not many-open with a line that opens early": {func(f *files) {
			f.roster, f.dots, f.rig = crowd, crowdDots, f.rig+"\n[[mic]]\nname = \"synth\"\nkind = \"line\"\nchannel = 60\nat = { x = 0, y = -3, z = 1 }\n"
			f.score += cueAt("1", "1:1", `open.support = ["@crowd"]`) +
				cueAt("2", "1:9", "open_early = 1\nopen.support = [\"@crowd\"]\nopen.feature = [\"synth\"]")
		}, ""},
		"loud-near-mic": {func(f *files) {
			f.roster += "D,snare,,,,,\n"
			f.dots += "1,D,4,4\n2,D,4,4\n3,D,4,4\n"
			f.score += cueAt("1", "1:1", `open.support = ["field"]`)
		}, `loud-near-mic cue "1", field: D within 5 m of the open mic`},
		"uneven-pickup": {func(f *files) {
			f.dots = dots("0", "2")
			f.dots = strings.ReplaceAll(f.dots, ",40", ",10")
			f.score += cueAt("1", "1:1", `open.support = ["field"]`)
		}, `uneven-pickup cue "1", field: A is `},
		"uneven-pickup alone": {func(f *files) {
			f.dots = dots("0", "4")
			f.score += cueAt("1", "1:1", `open.support = ["field"]`)
		}, `uneven-pickup cue "1", field: A is `},
		"keep-nothing": {func(f *files) { f.score += cueAt("1", "1:1", "keep = true\n"+a) },
			`keep-nothing cue "1" has keep, but no cue comes before it`},
		"close-nothing": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nclose = [\"B\"]") },
			`close-nothing B is not open when cue "1" closes it`},
		"nudge-closed": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nnudge = { B = 1 }") },
			`nudge-closed B has a nudge in cue "1" but is not open in it`},
		"param-closed": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nparam.air = { B = 1 }") },
			`param-closed cue "1" sets air for B but does not open it`},
		"param-range": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nparam.air = { A = 13 }") },
			`param-range cue "1", A: air of 13 dB is out of the mixer's range (-12 to 12)`},
		"raw-scene": {func(f *files) {
			f.score += cueAt("1", "1:1", a+"\nalso = [{ address = \"/scene\", args = [7] }]")
		}, `raw-scene this mixer stores a scene`},
		"level-range": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nnudge = { A = 9 }") },
			`level-range cue "1", A: a level of 9.0 dB is outside the mixer's -70 to 6 dB`},
		"delay-max": {func(f *files) {
			f.rig += "delay = 600\n"
			f.score += cueAt("1", "1:1", "open.feature = [\"field\"]")
		}, `delay-max cue "1": the mixer's longest delay of 500 ms is too short for field; worst: field, 600.0 ms`},
		"not delay-max": {func(f *files) {
			f.rig += "delay = 500\n"
			f.score += cueAt("1", "1:1", "open.feature = [\"field\"]")
		}, ""},
		"not few-in-time": {func(f *files) {
			f.dots, f.rig = dots("0", "-2"), f.rig+someSeats
			f.score = "check.fit = 26\n" + f.score + cueAt("1", "1:1", a)
		}, ""},
		"not changes-nothing": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", a+"\nnudge = { A = 0.1 }")
		}, ""},
		"not handover-open": {func(f *files) {
			f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
			f.score += cueAt("1", "1:1", a) + cueAt("2", "set 2", `open.feature = ["B"]`)
		}, ""},
		"not opens-moving": {func(f *files) {
			f.moves = cue.Glides
			f.score = "check.press = 0\n" + strings.Replace(f.score, "tempo = 120", "tempo = 240", 1)
			f.dots = strings.ReplaceAll(base.dots, "3,A,0,32", "3,A,0,44")
			f.score += cueAt("1", "1:1", a) + cueAt("2", "set 3 - 2", `open.feature = ["B"]`) + cueAt("3", "set 3",
				`open.feature = ["A"]`)
		}, ""},
		"not loud-near-mic": {func(f *files) {
			f.roster += "D,snare,,,,,\n"
			f.dots += "1,D,9,4\n2,D,9,4\n3,D,9,4\n"
			f.score += cueAt("1", "1:1", `open.support = ["field"]`)
		}, ""},
		"not uneven-pickup": {func(f *files) {
			f.dots = strings.ReplaceAll(dots("0", "4"), ",40", ",5")
			f.score = "check.uneven = 30\n" + f.score + cueAt("1", "1:1", `open.support = ["field"]`)
		}, ""},
		"not keep-nothing": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", "keep = true\nopen.feature = [\"B\"]")
		}, ""},
		"not close-nothing": {func(f *files) {
			f.score += cueAt("1", "1:1", a) + cueAt("2", "1:9", "keep = true\nclose = [\"A\"]")
		}, ""},
		"not nudge-closed": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nnudge = { A = 1 }") }, ""},
		"not param-closed": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nparam.air = { A = 1 }") }, ""},
		"not param-range":  {func(f *files) { f.score += cueAt("1", "1:1", a+"\nparam.air = { A = 12 }") }, ""},
		"not raw-scene": {func(f *files) {
			f.score += cueAt("1", "1:1", a+"\nalso = [{ address = \"/room\", args = [7] }]")
		}, ""},
		"not level-range": {func(f *files) { f.score += cueAt("1", "1:1", a+"\nnudge = { A = 6 }") }, ""},
	} {
		f := base
		c.change(&f)
		if code, _, _ := strings.Cut(c.want, " "); code != "" {
			broken[code] = true
		} else if code, ok := strings.CutPrefix(name, "not "); ok {
			kept[strings.Fields(code)[0]] = true
		}
		_, p := f.compile(t, ownParams...)
		var got []string
		for _, x := range p.All() {
			if x.Code == "never-open" || x.Code == "no-dot" || x.Code == "too-close" {
				continue
			}
			got = append(got, x.Code+" "+x.What)
			if x.Span.File == nil || x.Do == "" || x.Severity != source.Warning {
				t.Errorf("%s: %+v", name, x)
			}
		}
		text := strings.Join(got, "\n")
		switch {
		case c.want == "" && text != "":
			t.Errorf("%s: nothing was to be said, and this was:\n%s", name, text)
		case c.want != "" && !strings.Contains(text, c.want):
			t.Errorf("%s: %q is not in\n%s", name, c.want, text)
		}
		if c.want == "" {
			continue
		}
		code := strings.Fields(c.want)[0]
		f.score = "check.allow = [\"" + code + "\"]\n" + f.score
		if _, p := f.compile(t, ownParams...); strings.Contains(said(p), "["+code+"]") {
			t.Errorf("%s: still said when the score accepts it:\n%s", name, said(p))
		}
	}
	for _, r := range rules.List {
		code := r.Code
		if r.Heard {
			continue // the tests of package heard have it
		}
		if !broken[code] {
			t.Errorf("no show here breaks %s", code)
		}
		if !kept[code] {
			t.Errorf("no show here just does not break %s", code)
		}
	}
}

// Where the mixer's delay may not move, what to do about few seats in time names the key that says so.
func TestRulesNameMoves(t *testing.T) {
	for moves, want := range map[cue.Moves]map[string]bool{
		cue.Closed: {"few-in-time": true, "delay-held": true}, cue.Glides: {"few-in-time": false},
	} {
		f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n")
		f.score, f.rig, f.moves = "check.fit = 95\ncheck.held = 1\ndelay.box = \"free\"\n"+f.score, f.rig+someSeats, moves
		f.dots = strings.Replace(f.dots, "2,A,0,32", "2,A,0,60", 1)
		_, p := f.compile(t)
		got := map[string]bool{}
		for _, x := range p.All() {
			if x.Code == "few-in-time" || x.Code == "delay-held" {
				got[x.Code] = strings.Contains(x.Do, "set [delay] moves in mixer.toml (backfield help clicks)")
			}
		}
		if !maps.Equal(got, want) {
			t.Errorf("moves %q: %v, not %v", moves, got, want)
		}
	}
}

// A cue accepts a warning by its code; an unknown code is an error with a suggestion.
func TestAllow(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\nat = \"1:9\"\n" +
		"open.feature = [\"A\"]\nallow = [\"changes-nothing\"]\n")
	if _, p := f.compile(t); strings.Contains(said(p), "changes-nothing") {
		t.Errorf("still said:\n%s", said(p))
	}
	f.score = strings.Replace(f.score, "changes-nothing", "changes-noting", 1)
	if _, p := f.compile(t); !strings.Contains(said(p), `did you mean "changes-nothing"?`) || p.Errors() != 1 {
		t.Errorf("an unknown code:\n%s", said(p))
	}
}

// What a cue accepts is no warning, but is in the list of all remarks.
func TestCautions(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\nat = \"1:9\"\n" +
		"open.feature = [\"A\"]\nallow = [\"changes-nothing\"]\n")
	r, p := f.compile(t)
	got := r.Remarks
	if strings.Contains(said(p), "changes-nothing") || len(got) != 1 || got[0].Cue != "2" ||
		got[0].Code != "changes-nothing" || !got[0].Accepted {
		t.Errorf("%+v\n%s", got, said(p))
	}
}

// The clock opens mics early only from the cue before: for the first cue the fix is another one.
func TestFirstCueOpensLate(t *testing.T) {
	cues := map[string]string{
		"move the cue": "[[cue]]\nid = \"1\"\nat = \"1:9\"\nopen.feature = [\"A\"]\n",
		"write open_early = 2, or move": "[[cue]]\nid = \"1\"\nat = \"1:1\"\n" +
			"[[cue]]\nid = \"2\"\nat = \"1:9\"\nopen.feature = [\"A\"]\n",
	}
	for want, cue := range cues {
		f := base.with(cue)
		f.plays = "A 6-32"
		_, p := f.compile(t)
		found := false
		for _, x := range p.All() {
			if x.Code == "opens-late" {
				found = strings.Contains(x.Do, want) && strings.Contains(x.Do, "write open_early") == (want[0] == 'w')
			}
		}
		if !found {
			t.Errorf("%q is not said: %v", want, p.All())
		}
	}
}
