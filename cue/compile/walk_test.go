package compile

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/work"
)

// TestGlide walks a player straight back from 32 to 48 steps on the 50. By hand, the time to the press box goes from
// 146.094 to 171.904 ms, so that the reference policy wants 45.4 ms at first and 71.2 ms at the end. In between the lines
// stay within 1 ms of what it wants, and within the slew. A mixer that clicks keeps one delay.
func TestGlide(t *testing.T) {
	f := base
	f.dots = "set,player,x,y\n1,A,0,32\n2,A,0,48\n3,A,0,48\n1,B,-16,40\n2,B,-16,40\n3,B,-16,40\n"
	f = f.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\nfade = 2\n[[cue]]\nid = \"2\"\nat = \"set " +
		"2\"\nopen.feature = [\"A\", \"B\"]\n")
	for _, moves := range []cue.Moves{cue.Glides, cue.AtCues, cue.Closed} {
		r, _ := f.compileWith(t, func(in *Input) { in.Mixer.Moves = moves })
		if r.Show == nil || len(r.Show.Cues) != 2 {
			t.Fatalf("%s: %+v", moves, r.Show)
		}
		first, second := channelOf(t, r, "1", 1), channelOf(t, r, "2", 1)
		a, b := first.DelayMS, second.DelayMS
		if moves == cue.Glides && (a != 45.4 || b != 71.2) || moves == cue.AtCues && a >= b || moves == cue.Closed && a != b {
			t.Errorf("%s: delays of %g and %g ms", moves, a, b)
		}
		if moves != cue.Glides {
			if len(first.Glide) > 0 {
				t.Errorf("%s: knots %+v", moves, first.Glide)
			}
			continue
		}
		if last := first.Glide[len(first.Glide)-1]; last.Movement != 1 || last.Count != 17 || last.TimeS != 8 ||
			last.DelayMS != 71.2 || len(second.Glide) > 0 {
			t.Errorf("knots %+v, then %+v", first.Glide, second.Glide)
		}
		x := r.Derivations[0][0].Stretch
		lastMS := 45.4
		for k := range x.Samples[:65] {
			at := x.Samples[k]
			ms := r.Show.Cues[0].GlideAt(&first, at.Elapsed/2, moves, nil).DelayMS
			want := 1000*(at.At.Distance(r.Rig.Reference)/r.Setup.System.SpeedMPS) - 110.671 + 10
			if math.Abs(ms-want) > 1.06 || math.Abs(ms-lastMS) > 8*0.125+1e-9 {
				t.Errorf("%g counts on, the delay is %g ms, and %g is wanted", at.Elapsed, ms, want)
			}
			lastMS = ms
		}
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

// The stack that is heard as an echo is kept with the path: it is not looked for again, and what is said is the same as
// without a memo, also once a dot, the zones or the stacks have changed.
func TestMemoKeepsEchoes(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\n" +
		"at = \"set 2\"\nopen.feature = [\"A\", \"B\"]\n")
	f.score = "check.echo = 0\n" + f.score
	late := func(side string) files {
		x := f
		at := "x = " + side + "20, y = -2, z = 2.5 }"
		x.rig = strings.Replace(f.rig, at, at+"\ndelay = \"80 ms\"", 1) + someSeats
		return x
	}
	right, left := late(""), late("-")
	moved := right
	moved.dots = strings.ReplaceAll(f.dots, "2,A,0,32", "2,A,3,40")
	var memo work.Memo
	for i, x := range []files{right, moved, right, left, left} {
		_, cold := x.compile(t)
		r, warm := x.compileWith(t, func(in *Input) { in.Memo = &memo })
		if said(warm) != said(cold) || !strings.Contains(said(warm), "echo-heard") {
			t.Fatalf("compile %d says with a memo:\n%s\nwithout:\n%s", i, said(warm), said(cold))
		}
		for _, list := range r.Derivations {
			for _, w := range list {
				if n := r.Setup.EchoStack(nil, w, 0); w.Fit.Echo > 0 && n < 0 { // without memory it cannot be computed
					t.Errorf("compile %d: no stack echoes %s", i, w.Name)
				}
			}
		}
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

// Two walks of one player, of which the second begins where the first ended: the one worker that computes both must not
// take what it heard for the first for the second's. With a memo the second is not even computed after the first.
func TestPathsShareNothing(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\"]\n[[cue]]\nid = \"2\"\nat = \"set 2\"\n" +
		"open.feature = [\"B\"]\n[[cue]]\nid = \"3\"\nat = \"set 2 + 4\"\nopen.feature = [\"A\"]\n")
	f.rig += someSeats
	f.dots = strings.ReplaceAll(f.dots, "2,A,0,32\n3,A,0,32", "2,A,12,44\n3,A,12,44")
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	encoded := func(memo *work.Memo) string {
		r, p := f.compileWith(t, func(in *Input) { in.Memo = memo })
		text, _ := r.Show.Encode()
		return string(text) + said(p)
	}
	var memo work.Memo
	for _, f.moves = range []cue.Moves{cue.Closed, cue.AtCues, cue.Glides, cue.Closed, cue.AtCues} {
		runtime.GOMAXPROCS(1)
		one := encoded(nil)
		if warm := encoded(&memo); warm != one {
			t.Errorf("%s: with a memo:\n%s\nwithout:\n%s", f.moves, warm, one)
		}
		runtime.GOMAXPROCS(2)
		for range 5 {
			if two := encoded(nil); two != one {
				t.Fatalf("%s: two workers compile:\n%s\none:\n%s", f.moves, two, one)
			}
		}
	}
}

// A pack goes to another player at set 2 while its channel is open. The stretch of the first player ends there, and the
// channel stays open with their last numbers until the next cue.
func TestHandoverWhileOpen(t *testing.T) {
	f := base.with("[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\", \"B\"]\n")
	f.roster = "player,section,pack,channel,from\nA,trumpet,P1,1,\nB,trumpet,P2,2,\nC,baritone,P1,1,set 2\n"
	f.dots = strings.ReplaceAll(f.dots, "2,A,0,32", "2,A,0,48")
	r, _ := f.compileWith(t, func(in *Input) { in.Mixer.Moves = cue.Glides })
	if len(r.Show.Cues) != 1 {
		t.Fatalf("%d snapshots", len(r.Show.Cues))
	}
	c := channelOf(t, r, "1", 1)
	if last := c.Glide[len(c.Glide)-1]; !c.Open || last.Count != 17 || last.DelayMS != 71.2 {
		t.Errorf("%+v: its knots must end at the handover", c)
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
