package compile

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"backfield/cue/work"
)

// During a walk, delay and pan of a snapshot are the middle of their ranges, and waypoints keep these small. By hand,
// straight back from 32 to 48 steps on the 50: a step back every count changes the time to the press box by 1.5 to 1.7
// ms a count, so 10 ms (twice 5) is 6 counts at first (146.094 to 155.740 ms; a seventh would make it 157.352), then
// 6 (to 165.427), then the rest (to 171.904): middles of 150.917, 160.584 and 168.666 ms, less 110.671, plus 10: 50.2,
// 59.9 and 68.0 ms.
func TestFollowOns(t *testing.T) {
	f := base
	f.dots = "set,player,x,y\n1,A,0,32\n2,A,0,48\n3,A,0,48\n1,B,-16,40\n2,B,-16,40\n3,B,-16,40\n"
	cues := "[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\nfade = 2\n[[cue]]\nid = \"2\"\nat = \"set " +
		"2\"\nopen.feature = [\"A\", \"B\"]\n"
	r := f.with(cues).show(t)
	var got []string
	for _, s := range r.Show.Cues {
		got = append(got, fmt.Sprintf("%s %s %v %g %g", s.ID, s.At, s.Waypoint, s.FadeCounts,
			channelOf(t, r, s.ID, 1).DelayMS))
	}
	want := "1 1:1 false 2 50.2, 1.1 1:7 true 0 59.9, 1.2 1:13 true 0 68, 2 set 2 false 0 71.2"
	if strings.Join(got, ", ") != want {
		t.Errorf("%s\nwant %s", strings.Join(got, ", "), want)
	}
}

// With the numbers of the last compile in the memo, the result is the same to the byte; nothing stale is used when
// a dot, the air, the window or the stands change.
func TestMemo(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\nopen.support = [\"B\"]\n[[cue]]\nid = " +
		"\"2\"\nat = \"set 2\"\nopen.feature = [\"B\"]\n")
	f.rig += someSeats
	moved := f
	moved.dots = strings.ReplaceAll(f.dots, "2,A,0,32", "2,A,3,40")
	hot := f
	hot.rig = strings.Replace(f.rig, "20 C", "31 C", 1)
	wide := f
	wide.score = "delay.window = 40\n" + f.score
	higher := f
	higher.rig = strings.Replace(f.rig, "z = 18", "z = 24", 1)
	fitted := f
	fitted.score = "pan.by = \"stands\"\n" + f.score
	var memo work.Memo
	seen := map[string]bool{}
	for i, x := range []files{f, moved, f, hot, f, wide, moved, higher, fitted, moved, fitted} {
		cold := x.show(t)
		want, _ := cold.Show.Encode()
		warm, _ := x.compileWith(t, func(in *Input) { in.Memo = &memo })
		got, _ := warm.Show.Encode()
		if string(got) != string(want) {
			t.Fatalf("compile %d differs with a memo:\n%s\nwithout:\n%s", i, got, want)
		}
		seen[string(want)] = true
	}
	if len(seen) != 6 {
		t.Errorf("%d different shows, want 6: the changes must matter", len(seen))
	}
}

// The result does not depend on how many cores there are.
func TestCores(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\nopen.support = [\"B\", \"field\"]\n" +
		"[[cue]]\nid = \"2\"\nat = \"set 2\"\nopen.feature = [\"B\"]\n")
	f.rig += someSeats
	f.dots = strings.ReplaceAll(f.dots, "2,A,0,32", "2,A,6,44")
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	one, _ := f.show(t).Show.Encode()
	runtime.GOMAXPROCS(8)
	for range 20 {
		if many, _ := f.show(t).Show.Encode(); string(many) != string(one) {
			t.Fatal("eight workers and one disagree")
		}
	}
}

// A pack goes to another player at set 2 while its channel is open, and another player's walk needs waypoints after that:
// the channel stays open in all of them, with the old holder's numbers.
func TestHandoverWhileOpen(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\", \"B\"]\n")
	f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
	f.dots = strings.ReplaceAll(f.dots, "3,B,-16,40", "3,B,-16,60")
	r := f.show(t)
	first := channelOf(t, r, "1", 1)
	after := 0
	for _, s := range r.Show.Cues {
		c := channelOf(t, r, s.ID, 1)
		if !c.Open || c.Pan != first.Pan || c.DelayMS != first.DelayMS || c.LevelDB != first.LevelDB {
			t.Errorf("cue %s: %+v, want it open as %+v", s.ID, c, first)
		}
		if s.Count > 17 {
			after++
		}
	}
	if after == 0 {
		t.Error("no waypoint after the handover: the case shows nothing")
	}
}

// What is explained is what is in the snapshot: every channel's pan and delay, open or closed, over a handover too.
func TestExplainIsTheSnapshot(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\nat = \"1:9\"\n" +
		"open.support = [\"B\"]\n[[cue]]\nid = \"3\"\nat = \"set 2 + 4\"\nopen.feature = [\"C\"]\n[[cue]]\nid = " +
		"\"4\"\nat = \"set 2 + 8\"\nopen.feature = [\"field\"]\n")
	f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
	r := f.show(t)
	compared := 0
	for _, s := range r.Show.Cues {
		for _, c := range s.Channels {
			w, _, closed, err := r.Explain(s.ID, c.Player)
			if err != nil || w.Channel != c.Channel || w.Pan.Value != c.Pan || w.Delay.MS != c.DelayMS ||
				closed == c.Open {
				t.Errorf("cue %s %s: %+v, explained as pan %g delay %g closed %v (%v)", s.ID, c.Player, c, w.Pan.Value,
					w.Delay.MS, closed, err)
			}
			compared++
		}
	}
	if compared != 12 {
		t.Errorf("compared %d channels", compared)
	}
	if _, _, _, err := r.Explain("1", "C"); err == nil || !strings.Contains(err.Error(), "wears no mic in cue") {
		t.Errorf("before the player has the pack: %v", err)
	}
}

// A cue with after stands so many counts after the one before it in the file, and is marked to go by itself.
func TestAfter(t *testing.T) {
	first := "[[cue]]\nid = \"1\"\nat = \"1:5\"\nopen.feature = [\"A\"]\n"
	for _, after := range []string{`"8 counts"`, `"8"`, "8", `" 8 counts "`} {
		r := base.with(first + "[[cue]]\nid = \"2\"\nafter = " + after +
			"\nopen.feature = [\"B\"]\n[[cue]]\nid = \"3\"\nafter = 1.5\nopen.feature = [\"A\"]\n").show(t)
		for i, want := range []string{"1 1:5 5 false", "2 1:13 13 true", "3 1:14.5 14.5 true"} {
			s := r.Show.Cues[i]
			if got := fmt.Sprintf("%s %s %g %t", s.ID, s.At, s.Count, s.Auto); got != want {
				t.Errorf("after = %s: %s, want %s", after, got, want)
			}
		}
	}
	for more, want := range map[string]string{
		"id = \"2\"\nopen.feature = [\"B\"]\n":  `show:14:1: error: the key "at" is missing`,
		"id = \"2\"\nat = \"1:9\"\nafter = 3\n": "show:17:9: error: this cue has both at and after",
		"id = \"2\"\nafter = \"a while\"\n": "show:16:9: error: this must be a number of counts, " +
			"8 or",
		"id = \"2\"\nafter = -3\n":                              "show:16:9: error: -3 counts after the cue before",
		"id = \"2\"\nafter = 900\nopen.feature = [\"B\"]\n":     "show:16:9: error: movement 1 has only 32 counts",
		"id = \"2\"\nat = 7\nopen.feature = [\"B\"]\n":          "show:16:6: error: ",
		"id = \"2\"\nafter = \"nan\"\nopen.feature = [\"B\"]\n": "show:16:9: error: this must be a number of counts",
	} {
		_, p := base.with(first + "[[cue]]\n" + more).compile(t)
		if p.Errors() != 1 || !strings.Contains(said(p), want) {
			t.Errorf("%s: %s\nwant %s", more, said(p), want)
		}
	}
	if _, p := base.with("[[cue]]\nid = \"1\"\nafter = 8\n").compile(t); p.Errors() != 1 || !strings.Contains(said(p),
		"this is the first cue, so there is nothing") {
		t.Error(said(p))
	}
}
