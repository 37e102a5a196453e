package console

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"

	"backfield/cue/step"
	"backfield/osc/feed"
	"backfield/osc/run"
)

var update = flag.Bool("update", false, "rewrite the golden texts")

// showView is a run in the middle of a show.
func showView() run.View {
	return run.View{
		Title: "Lights", Step: "12A", Name: "Ballad, brass answers",
		Now: run.ScoreMoment{Movement: 2, Count: 41.5, Set: "14", BPM: 76}, ShowS: 162.4, Running: true, Rate: 0.987, BPM: 75,
		Rows: []run.ChannelRow{
			row(3, "Tpt 3", "feature", -3, feed.ChannelOK), row(12, "Mello 1", "feature", 0, feed.ChannelOK),
			row(22, "Bari 1", "", -9.5, feed.ChannelOK), row(41, "field left", "", -12, feed.ChannelOK),
			row(42, "field center", "", -12, feed.ChannelOK),
		},
		WaitCounts: 32,
		Ticks:      []run.Tick{{ID: "12B", Counts: 4.5}},
		NextAuto:   &run.NextCue{ID: "12B", At: "2:46", Counts: 4.5, InS: 3.6, Summary: step.Summary{Closes: []string{"Bari 1"}}},
		Next: &run.NextCue{
			ID: "13", At: "2:57", Name: "Soli", Counts: 15.5, InS: 12.4,
			Summary: step.Summary{
				Opens: []string{"Tpt 1", "Tpt 2"}, Closes: []string{"Mello 1"}, Levels: []string{"Tpt 3 -3 to 0 dB"}, Moves: 2,
			},
		},
		Mixers: []run.MixerView{
			{To: "udp://10.0.0.2:9000", Up: true, Confirms: true, ReplyAgoS: 0.3},
			{To: "tcp://10.0.0.3:9000", Reason: "connection refused", ReplyAgoS: -1},
		},
	}
}

// busyView has everything at once.
func busyView() run.View {
	v := showView()
	v.Hush, v.Running = true, false
	v.Next.Counts, v.Next.InS = -2.5, -2
	v.Holds, v.Nudges = []string{"Mello 1 (channel 12)"}, []string{"Bari 1 +1.5 dB"}
	v.Swaps = []string{"Tpt 3 (channel 3) to channel 60"}
	moved := row(1, "Tpt 1", "feature", -3.1, feed.ChannelManual)
	moved.Moved, moved.ShowDB, moved.Mixer = []string{"level -3.1 dB (show +0.0 dB)"}, 0, "udp://10.0.0.2:9000"
	v.Rows = append([]run.ChannelRow{moved}, v.Rows...)
	v.Problem = "tcp://10.0.0.3:9000 is up, but its OSC port is closed; check the port in mixer.toml"
	v.ProblemAgoS = 4
	return v
}

func pictures() map[string]struct {
	v    run.View
	s    ScreenState
	w, h int
} {
	type shot = struct {
		v    run.View
		s    ScreenState
		w, h int
	}
	typing := ScreenState{
		Typing: true, Typed: `nudge "Tpt 3" +1.`,
		Wrong: true, Said: `cannot read "nudge"; type it like: nudge "Tpt 3" +1.5`,
	}
	calm, busy := ScreenState{Said: "cue 12A"}, ScreenState{Armed: run.Unhush}
	long := showView()
	long.Step, long.Name = "a very long id for a cue", "Étude für 東京 "+strings.Repeat("long ", 30)
	long.Next.Name = strings.Repeat("name ", 30)
	long.Rows[0].Player = strings.Repeat("Trumpet ", 12)
	for i := range 40 {
		long.Rows = append(long.Rows, row(100+i, fmt.Sprintf("Extra %d", i), "", -20, feed.ChannelOK))
	}
	refused := ScreenState{Wrong: true, Said: "go ignored (a second press within 400 ms)"}
	far := showView()
	far.WaitCounts = 200
	end := showView()
	end.Next, end.NextAuto, end.Open, end.Rows = nil, nil, nil, nil
	wait := showView()
	wait.Next.ID, wait.Next.At, wait.Next.Counts, wait.Next.InS = "20", "3:1", 0, 7.3
	wait.NextAuto, wait.Ticks = nil, nil
	list := map[string]shot{
		"wait 80x24":     {wait, ScreenState{}, 80, 24},
		"calm 80x24":     {showView(), calm, 80, 24},
		"calm 60x16":     {showView(), calm, 60, 16},
		"calm 132x40":    {showView(), calm, 132, 40},
		"calm 30x8":      {showView(), calm, 30, 8},
		"busy 80x24":     {busyView(), busy, 80, 24},
		"busy 60x16":     {busyView(), busy, 60, 16},
		"busy 40x6":      {busyView(), busy, 40, 6},
		"typing 60x16":   {showView(), typing, 60, 16},
		"help 80x24":     {showView(), ScreenState{Sheet: help(false)}, 80, 24},
		"page 80x24":     {showView(), ScreenState{Sheet: pageLink().Lines, Code: pageLink().Code}, 80, 24},
		"page 30x24":     {showView(), ScreenState{Sheet: pageLink().Lines, Code: pageLink().Code}, 30, 24},
		"auto 80x24":     {autoView(), calm, 80, 24},
		"long 60x16":     {long, calm, 60, 16},
		"end 80x24":      {end, ScreenState{}, 80, 24},
		"old 80x24":      {showView(), ScreenState{ViewAgeS: 7}, 80, 24},
		"waiting 80x24":  {run.View{}, ScreenState{ViewAgeS: -1}, 80, 24},
		"refused 100x30": {far, refused, 100, 30},
		"standby 80x24":  {standbyView(), calm, 80, 24},
		"asked 80x24":    {goneView("NOT TAKEN OVER: laptop 1 may still send. Switch it off"), ScreenState{}, 80, 24},
	}
	for name, v := range demoViews() {
		s := ScreenState{}
		if name == "refusal" {
			s = ScreenState{Wrong: true, Said: "GO ignored (held down, or pressed twice)"}
		}
		list["demo "+name+" 80x24"], list["demo "+name+" 120x36"] = shot{v, s, 80, 24}, shot{v, s, 120, 36}
	}
	return list
}

// standbyView is the screen of a laptop that stands by.
func standbyView() run.View {
	v := showView()
	v.Pair = &run.PairView{
		Headline: "STANDBY: this laptop sends nothing. Laptop 1 alive, 0.2 s ago", Term: 4, Entries: 1204,
		Mixers: v.Mixers,
	}
	return v
}

// goneView is the screen of a laptop that stands by and hears nothing of the other.
func goneView(ask string) run.View {
	v := demoView()
	v.Pair = &run.PairView{
		Headline: "LAPTOP 1 IS GONE for 12 s. This is laptop 2", Press: "takes over", Gone: true, Ask: ask, Term: 4, Entries: 1204,
	}
	if ask != "" {
		v.Pair.Headline, v.Pair.Press, v.Pair.AskPress = "LAPTOP 1 IS GONE for 12 s", "", "then takes over"
	}
	v.Mixers = nil
	for i := range v.Rows {
		v.Rows[i].Sign = feed.ChannelWaiting
	}
	return v
}

// pageLink is a page's overlay: a link, and a code of the usual size that means nothing here.
func pageLink() Overlay {
	s := Overlay{Lines: []string{
		"THE PAGE: this link lets in one device, once", "  http://192.0.2.7:8080/k/0000-0000-0000",
		"page new removes every device and makes a new link",
	}}
	for range 17 {
		s.Code = append(s.Code, strings.Repeat("▀ █", 11))
	}
	return s
}

// autoView is a view in which the next cue needs no press.
func autoView() run.View {
	v := showView()
	v.Running, v.Next.Auto = true, true
	return v
}

// readable writes the control sequences of a picture as marks: [bold], {reverse}, [{both}].
var readable = strings.NewReplacer(
	"\x1b[1m", "⟦", "\x1b[7m", "⟪", "\x1b[1;7m", "⟪⟦", "\x1b[30;107m", "⟬", "\x1b[m", "⟧",
)

func TestPicture(t *testing.T) {
	known := map[string]bool{}
	for name, p := range pictures() {
		t.Run(name, func(t *testing.T) {
			got := Picture(p.v, p.s, p.w, p.h)
			checkPicture(t, got, p.w, p.h)
			text := ""
			for _, row := range strings.Split(ansi.Strip(got), "\n") {
				text += "|" + row + strings.Repeat(" ", max(p.w-ansi.StringWidth(row), 0)) + "|\n"
			}
			text += "\n" + readable.Replace(got) + "\n"
			file := filepath.Join("testdata", strings.ReplaceAll(name, " ", "-")+".txt")
			known[file] = true
			if *update {
				os.MkdirAll("testdata", 0o777)
				if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if text != string(want) {
				t.Errorf("%s has\n%s\nbut the picture is\n%s", file, want, text)
			}
		})
	}
	files, _ := filepath.Glob("testdata/*.txt")
	for _, f := range files {
		if !known[f] {
			t.Errorf("%s: no case writes it", f)
		}
	}
}

// checkPicture checks what holds for every picture: its size, valid text, and only the known control sequences, each
// ended in its row.
func checkPicture(t *testing.T, got string, w, h int) {
	t.Helper()
	if w <= 0 || h <= 0 {
		if got != "" {
			t.Errorf("%d x %d: a picture %q", w, h, got)
		}
		return
	}
	if !utf8.ValidString(got) {
		t.Errorf("not valid text: %q", got)
	}
	rows := strings.Split(got, "\n")
	if len(rows) > h {
		t.Errorf("%d rows of %d:\n%s", len(rows), h, got)
	}
	for _, row := range rows {
		if n := ansi.StringWidth(row); n > w {
			t.Errorf("a row of %d cells in %d: %q", n, w, row)
		}
		rest := row
		for _, known := range []string{"\x1b[1m", "\x1b[7m", "\x1b[1;7m", "\x1b[30;107m", "\x1b[m"} {
			rest = strings.ReplaceAll(rest, known, "")
		}
		if i := strings.IndexFunc(rest, func(r rune) bool { return r < ' ' || r >= 0x7f && r < 0xa0 }); i >= 0 {
			t.Errorf("a control in %q", row)
		}
		if strings.Count(row, "\x1b[") != 2*strings.Count(row, "\x1b[m") {
			t.Errorf("a control sequence that does not end: %q", row)
		}
	}
}

// What must never be left out is in every picture that has a few rows.
func TestPictureAlwaysSays(t *testing.T) {
	for h := 5; h < 60; h++ {
		for w := 60; w < 200; w += 7 {
			got := ansi.Strip(Picture(busyView(), ScreenState{Armed: run.Unhush}, w, h))
			for _, want := range []string{"NEXT 13", "HUSHED", "Press again to UNHUSH"} {
				if !strings.Contains(got, want) {
					t.Fatalf("%d x %d lacks %q:\n%s", w, h, want, got)
				}
			}
			for _, want := range []string{"NO LINK", "PROBLEM", "CLOCK STOPPED"} {
				if h >= 12 && !strings.Contains(got, want) {
					t.Fatalf("%d x %d lacks %q:\n%s", w, h, want, got)
				}
			}
		}
	}
}

func TestBigCounts(t *testing.T) {
	for _, x := range []struct {
		counts float64
		want   string
	}{
		{16, "16"}, {15.01, "16"}, {8.0000000001, "8"}, {0.2, "1"}, {0, "0"}, {-0.5, "0"}, {-1, "+1"}, {-2.5, "+2"},
		{56.000003, "56"}, {56.001, "57"},
		{123456, "9999"}, {math.Inf(1), "9999"}, {math.Inf(-1), "+999"}, {math.NaN(), "0"},
	} {
		want := make([]string, digitRows)
		for r := range want {
			for _, c := range x.want {
				want[r] += "  " + digits[c][r]
			}
			want[r] = want[r][1:]
		}
		if got := bigCounts(&run.NextCue{Counts: x.counts}, 1); !slices.Equal(got, want) {
			t.Errorf("%v counts:\n%s\nwant %s", x.counts, strings.Join(got, "\n"), x.want)
		}
	}
	wait, eight := bigCounts(&run.NextCue{InS: 7.3}, 1), digits['8']
	for r := range eight {
		if want := " " + eight[r]; strings.TrimSuffix(strings.TrimRight(wait[r], " "), " s") != strings.TrimRight(want, " ") ||
			strings.HasSuffix(wait[r], " s") != (r == digitRows-1) {
			t.Errorf("7.3 s before a movement:\n%s", strings.Join(wait, "\n"))
		}
	}
	for c, rows := range digits {
		for _, row := range rows {
			if utf8.RuneCountInString(row) != utf8.RuneCountInString(rows[0]) {
				t.Errorf("digit %c has rows of different width", c)
			}
		}
	}
}

// A part is cut only if it does not fit next to those of lower rank, and no row is given twice.
func TestHighestRanksAreCutFirst(t *testing.T) {
	typing := ScreenState{Typing: true, Typed: "nudge"}
	for _, s := range []ScreenState{{Armed: run.Unhush}, typing, {Sheet: help(false)}, {ViewAgeS: 7}, {ViewAgeS: -1}} {
		for height := range 60 {
			list := printed(painter{busyView(), s, 80, 1})
			given, left := 0, shareRows(list, height)
			for _, x := range list {
				given += x.rows
				needed := 0
				for _, y := range list {
					if y.rank < x.rank || y == x {
						needed += y.least()
					}
				}
				if x.rows == 0 && needed <= height {
					t.Errorf("%d rows, %+v: %q is cut, but it fits next to those before it", height, s, x.name)
				}
			}
			if given+left != height {
				t.Errorf("%d rows, %+v: %d are given and %d left", height, s, given, left)
			}
		}
	}
}

// No two parts have the same name. Only parts that are never shown together share a rank.
func TestScreenParts(t *testing.T) {
	shared := map[string]string{}
	names, ranks := map[string]bool{}, map[int]string{}
	for _, e := range screenParts {
		if names[e.name] {
			t.Errorf("there are two parts %q", e.name)
		}
		names[e.name] = true
		if other, ok := ranks[e.rank]; ok && shared[e.name] != other {
			t.Errorf("%q and %q have the same rank", e.name, other)
		}
		ranks[e.rank] = e.name
	}
}

// Every automatic cue of the wait is on the timeline.
func TestTimelineHasEveryAutomaticCue(t *testing.T) {
	v := showView()
	v.Ticks = []run.Tick{{ID: "12B", Counts: 4.5}, {ID: "12C", Counts: 8.5}, {ID: "12D", Counts: 12.5}}
	if got := strings.Count(Picture(v, ScreenState{}, 80, 24), "◆"); got != len(v.Ticks) {
		t.Errorf("%d automatic cues are on the timeline, want %d", got, len(v.Ticks))
	}
}

// A mixer that does not reply is not OK.
func TestMixerWithoutReply(t *testing.T) {
	v := run.View{Mixers: []run.MixerView{
		{To: "a", Up: true, Confirms: true, NoReply: true, ReplyAgoS: 7}, {To: "b", Up: true, ReplyAgoS: -1},
	}}
	for rows, want := range map[int]string{30: "NO REPLY a  check power and cable, last reply 7 s ago", 6: "1 of 2 mixers NO REPLY"} {
		if text := Picture(v, ScreenState{}, 80, rows); !strings.Contains(ansi.Strip(text), want) {
			t.Errorf("in %d rows it does not say %q:\n%s", rows, want, text)
		}
	}
}
