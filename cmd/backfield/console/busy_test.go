package console

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/feed"
	"backfield/osc/run"
)

// What strangers do takes no row from a problem, and none from what the operator must see.
func TestNoticeTakesNoRow(t *testing.T) {
	t.Parallel()
	v := demoViews()["manual"]
	v.Problem, v.ProblemAgoS = "cannot send /ch/3/mute to udp://127.0.0.1:9000: "+strings.Repeat("long ", 40)+"; release 3", 5
	v.Notice, v.NoticeAgoS = "a laptop at 10.0.0.66 was refused: wrong key", 1
	full := ansi.Strip(Picture(v, ScreenState{}, 80, 24))
	for _, want := range []string{" PROBLEM 5 s ago  cannot send /ch/3/mute to the mixer", "release 3"} {
		if !strings.Contains(full, want) {
			t.Errorf("%q is missing:\n%s", want, full)
		}
	}
	if strings.Contains(full, "NOTICE") {
		t.Errorf("a full screen has room for a notice:\n%s", full)
	}
	v = demoView()
	v.Problem, v.ProblemAgoS, v.Notice, v.NoticeAgoS = "NO REPLY from udp://127.0.0.1:9000", 5, "a laptop was refused", 1
	roomy := ansi.Strip(Picture(v, ScreenState{}, 80, 24))
	for _, want := range []string{" PROBLEM 5 s ago  NO REPLY from the mixer", " NOTICE 1 s ago  a laptop was refused"} {
		if !strings.Contains(roomy, want) {
			t.Errorf("%q is missing:\n%s", want, roomy)
		}
	}
	v.NoticeAgoS = 61
	if strings.Contains(Picture(v, ScreenState{}, 80, 24), "NOTICE") {
		t.Error("an old notice is still there")
	}
}

// TestNoFalseCalm11 draws the busiest moment at 80x24 and larger, with a message and while a command is typed: a dead mixer
// is the first thing on the screen, everything that is held, swapped, nudged or manual is there in full, and each of these
// channels has its number.
func TestNoFalseCalm11(t *testing.T) {
	t.Parallel()
	v := demoViews()["full"]
	v.Mixers[0].NoReply, v.Mixers[0].ReplyAgoS = true, 12
	for _, s := range []ScreenState{{}, {Wrong: true, Said: strings.Repeat("refused ", 15)}, {Typing: true}, {Armed: run.Unhush}} {
		for _, size := range [][2]int{{80, 24}, {80, 25}, {100, 30}, {120, 36}} {
			got := ansi.Strip(Picture(v, s, size[0], size[1]))
			rows := strings.Split(got, "\n")
			if !strings.Contains(rows[0], "NO REPLY FROM MIXER") {
				t.Errorf("%v: the first row is %q", size, rows[0])
			}
			for _, want := range []string{
				"Tpt 9 (channel 4)", "Tpt 17 (channel 7) to channel 21", "Tpt 1 +1.5 dB", "Mello 2 -2.0 dB",
				"ch 2   Tpt 3      -31.0 dB  MANUAL (show -1.5)", "MUTED AT MIXER (show -9.0)", "STILL OPEN", ":release 14 closes it, :ack 14 keeps it", ":release 10",
				"HUSHED", "OVERDUE", "3 MANUAL",
			} {
				if !strings.Contains(got, want) {
					t.Errorf("%v, %+v: %q is missing:\n%s", size, s, want, got)
				}
			}
			for _, r := range v.Rows[:8] {
				if want := fmt.Sprintf("%2d %s", r.Channel, r.Player); !strings.Contains(got, want) {
					t.Errorf("%v: %q is missing:\n%s", size, want, got)
				}
			}
		}
	}
}

// While a command is being typed, Space is a letter: no alarm says just to press it.
func TestAlarmsWhileTyping(t *testing.T) {
	t.Parallel()
	v := demoViews()["overdue"]
	v.Hush = true
	for typing, want := range map[bool][]string{
		false: {". SPACE starts cue", ". h h opens"}, true: {". Esc, then SPACE starts cue", ". Esc, then h h opens"},
	} {
		got := ansi.Strip(Picture(v, ScreenState{Typing: typing}, 120, 36))
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("typing %v: %q is missing:\n%s", typing, w, got)
			}
		}
	}
}

// With two mixers, each row says at which one, and nothing of that is cut in a window of 80 columns.
func TestWhichMixer(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ a, b, tail string }{
		{"udp://127.0.0.1:9461", "udp://127.0.0.1:9462", "…:9461"},
		{"udp://192.168.100.101:10023", "udp://192.168.100.102:10023", "….101:10023"},
	} {
		v := demoViews()["manual"]
		d := v.Mixers[0]
		d.To = x.a
		other := d
		other.To = x.b
		v.Mixers = []run.MixerView{d, other}
		for i := range v.Rows {
			v.Rows[i].Mixer = x.a
		}
		for width, names := range map[int][]string{80: {strings.TrimPrefix(x.a, "udp://"), x.tail}, 160: {strings.TrimPrefix(x.a, "udp://")}} {
			got := ansi.Strip(Picture(v, ScreenState{}, width, 36))
			for start, hint := range map[string]string{
				"\nch 2 ": ":release 2 sets -1.5 dB", "\nch 10 ": ":release 10 opens it", "\nch 14 ": ":ack 14",
			} {
				_, row, _ := strings.Cut(got, start)
				row, _, _ = strings.Cut(row, "\n")
				says := func(name string) bool { return strings.Contains(row, " at "+name+"  :release ") }
				if !slices.ContainsFunc(names, says) || !strings.Contains(row, hint) {
					t.Errorf("%d columns: %q, want one of %q and %q", width, row, names, hint)
				}
			}
		}
	}
}

// What a full disk means is on the screen whole, however long the path.
func TestFullDiskIsNotCut(t *testing.T) {
	t.Parallel()
	for _, long := range []int{1, 8, 30} {
		v := demoView()
		v.Problem = "cannot write the journal /home/show/" + strings.Repeat("nights/", long) +
			"2026-12-01.jsonl (no space left on device); the run goes on: its entries wait in memory"
		v.ProblemAgoS = 5
		if got := ansi.Strip(Picture(v, ScreenState{}, 80, 24)); !strings.Contains(got, "its entries wait in memory ") &&
			!strings.Contains(got, "its entries wait in memory\n") {
			t.Errorf("the path is %d long:\n%s", long, got)
		}
	}
}

// Mixers in one row are all that there are, not more.
func TestMixersInOneRow(t *testing.T) {
	t.Parallel()
	up := run.MixerView{Up: true, Confirms: true, ReplyAgoS: -1}
	for _, x := range []struct {
		rows int
		want string
	}{{1, "3 mixers, all up"}, {2, "2 more mixers, all up"}} {
		p := painter{v: run.View{Mixers: []run.MixerView{up, up, up}}, width: 80}
		lines := p.mixersInBrief(x.rows)
		if got := lines[len(lines)-1][0].text; got != x.want {
			t.Errorf("in %d rows: %q, want %q", x.rows, got, x.want)
		}
	}
}

// A channel outside the show is a row of its own. Only hush closes it: nothing else is offered.
func TestOutsideRow(t *testing.T) {
	t.Parallel()
	v := demoView()
	outside := row(9, "", "", -3, feed.ChannelOutside)
	outside.ShowOpen = false
	v.Rows = append(v.Rows, outside)
	got := ansi.Strip(Picture(v, ScreenState{}, 80, 24))
	if !strings.Contains(got, "ch 9   not in show   -3.0 dB  OPEN AT THE MIXER") || strings.Contains(got, ":release") {
		t.Error(got)
	}
}
