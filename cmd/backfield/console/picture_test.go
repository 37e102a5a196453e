package console

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"

	"backfield/osc/run"
)

var update = flag.Bool("update", false, "write the golden texts anew")

// stageView is a run in the middle of a show.
func stageView() run.View {
	return run.View{
		Title: "Lights", Step: "12A", Name: "Ballad, brass answers", Now: run.Place{Movement: 2, Count: 41.5, Set: "14", BPM: 76}, ShowS: 162.4, Running: true, Rate: 0.987, BPM: 75,
		Open: []run.OpenMic{
			{Channel: 3, Player: "Tpt 3", Kind: "worn", Role: "feature", LevelDB: -3, Moving: true},
			{Channel: 12, Player: "Mello 1", Kind: "worn", Role: "feature", LevelDB: 0},
			{Channel: 22, Player: "Bari 1", Kind: "worn", LevelDB: -9.5},
			{Channel: 41, Player: "field left", Kind: "field", LevelDB: -12},
			{Channel: 42, Player: "field centre", Kind: "field", LevelDB: -12},
		},
		Self:  &run.NextCue{ID: "12B", At: "2:46", Counts: 4.5, InS: 3.6, Closes: []string{"Bari 1"}},
		Next:  &run.NextCue{ID: "13", At: "2:57", Name: "Soli", Counts: 15.5, InS: 12.4, Opens: []string{"Tpt 1", "Tpt 2"}, Closes: []string{"Mello 1"}, Levels: []string{"Tpt 3 -3 to 0 dB"}, Moves: 2},
		Desks: []run.DeskView{{To: "udp://10.0.0.2:9000", Up: true, Answers: true, HeardAgoS: 0.3}, {To: "tcp://10.0.0.3:9000", Reason: "connection refused", HeardAgoS: -1}},
	}
}

// busyView has everything at once.
func busyView() run.View {
	v := stageView()
	v.Hush, v.Running = true, false
	v.Next.Counts, v.Next.InS = -2.5, -2
	v.Holds, v.Swaps, v.Nudges = []string{"Mello 1 (channel 12)"}, []string{"Tpt 3 (channel 3) to channel 60"}, []string{"Bari 1 +1.5 dB"}
	v.Desks[0].InHand = []string{"Tpt 1 (channel 1): level -3.1"}
	v.Trouble, v.AgoS = "tcp://10.0.0.3:9000: connection refused; is the desk switched on, and does it listen on this port?", 4
	return v
}

func pictures() map[string]struct {
	v    run.View
	s    State
	w, h int
} {
	type shot = struct {
		v    run.View
		s    State
		w, h int
	}
	calm, busy := State{Way: 32, Said: "cue 12A"}, State{Way: 32, Armed: run.Restore}
	long := stageView()
	long.Step, long.Name, long.Next.Name = "an id that nobody would write", "Étude für 東京 "+strings.Repeat("long ", 30), strings.Repeat("name ", 30)
	long.Open[0].Player = strings.Repeat("Trumpet ", 12)
	for i := range 40 {
		long.Open = append(long.Open, run.OpenMic{Channel: 100 + i, Player: fmt.Sprintf("Extra %d", i), LevelDB: -20})
	}
	end := stageView()
	end.Next, end.Self, end.Open = nil, nil, nil
	return map[string]shot{
		"calm 80x24":     {stageView(), calm, 80, 24},
		"calm 60x16":     {stageView(), calm, 60, 16},
		"calm 132x40":    {stageView(), calm, 132, 40},
		"calm 30x8":      {stageView(), calm, 30, 8},
		"busy 80x24":     {busyView(), busy, 80, 24},
		"busy 60x16":     {busyView(), busy, 60, 16},
		"busy 40x6":      {busyView(), busy, 40, 6},
		"typing 60x16":   {stageView(), State{Way: 32, Typing: true, Typed: `nudge "Tpt 3" +1.`, Wrong: true, Said: `"nudge" is not understood; write it like: nudge "Tpt 3" +1.5`}, 60, 16},
		"help 80x24":     {stageView(), State{Way: 32, Sheet: help(false)}, 80, 24},
		"page 80x24":     {stageView(), State{Way: 32, Sheet: door().Lines, Code: door().Code}, 80, 24},
		"page 30x24":     {stageView(), State{Way: 32, Sheet: door().Lines, Code: door().Code}, 30, 24},
		"itself 80x24":   {itself(), calm, 80, 24},
		"long 60x16":     {long, calm, 60, 16},
		"end 80x24":      {end, State{}, 80, 24},
		"old 80x24":      {stageView(), State{Way: 32, OldS: 7}, 80, 24},
		"waiting 80x24":  {run.View{}, State{OldS: -1}, 80, 24},
		"refused 100x30": {stageView(), State{Way: 200, Wrong: true, Said: "go: a second press within 400ms: not taken"}, 100, 30},
	}
}

// door is a page's sheet: a link, and a code of the usual size, here of no meaning.
func door() Sheet {
	s := Sheet{Lines: []string{"THE PAGE: this link lets one device in, and is another one then", "  http://192.0.2.7:8080/k/0000-0000-0000", "page new throws every device out and makes another key"}}
	for range 17 {
		s.Code = append(s.Code, strings.Repeat("▀ █", 11))
	}
	return s
}

// itself is a view in which the next cue needs no press.
func itself() run.View {
	v := stageView()
	v.Running, v.Next.ByItself = true, true
	return v
}

// readable writes the renditions of a picture as marks: [bold], {reverse}, [{both}].
var readable = strings.NewReplacer("\x1b[1m", "⟦", "\x1b[7m", "⟪", "\x1b[1;7m", "⟪⟦", "\x1b[30;107m", "⟬", "\x1b[m", "⟧")

func TestPicture(t *testing.T) {
	known := map[string]bool{}
	for name, p := range pictures() {
		t.Run(name, func(t *testing.T) {
			got := Picture(p.v, p.s, p.w, p.h)
			sound(t, got, p.w, p.h)
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
				t.Errorf("%s has\n%s\nand the picture is\n%s", file, want, text)
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

// sound holds a picture to what every one must be: of its size, valid text, with the known renditions and no other
// control, each of them ended in its row.
func sound(t *testing.T, got string, w, h int) {
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
			t.Errorf("a rendition that does not end: %q", row)
		}
	}
}

// What must never be left out stands in every picture that has a few rows.
func TestPictureAlwaysSays(t *testing.T) {
	for h := 5; h < 60; h++ {
		for w := 60; w < 200; w += 7 {
			got := ansi.Strip(Picture(busyView(), State{Way: 32, Armed: run.Restore}, w, h))
			for _, want := range []string{"NEXT 13", "HUSHED", "The same key again: RESTORE"} {
				if !strings.Contains(got, want) {
					t.Fatalf("%d x %d lacks %q:\n%s", w, h, want, got)
				}
			}
			if h >= 12 && (!strings.Contains(got, "DOWN") || !strings.Contains(got, "PROBLEM") || !strings.Contains(got, "CLOCK STANDS")) {
				t.Fatalf("%d x %d lacks the desk that is down, the problem or the clock:\n%s", w, h, got)
			}
		}
	}
}

func TestBigCounts(t *testing.T) {
	for _, x := range []struct {
		counts float64
		want   string
	}{{16, "16"}, {15.01, "16"}, {8.0000000001, "8"}, {0.2, "1"}, {0, "0"}, {-0.5, "0"}, {-1, "+1"}, {-2.5, "+2"}, {123456, "9999"}, {math.Inf(1), "9999"}, {math.Inf(-1), "+999"}, {math.NaN(), "0"}} {
		want := make([]string, digitRows)
		for r := range want {
			for _, c := range x.want {
				want[r] += "  " + digits[c][r]
			}
			want[r] = want[r][1:]
		}
		if got := bigCounts(x.counts, 1); !slices.Equal(got, want) {
			t.Errorf("%v counts:\n%s\nwant %s", x.counts, strings.Join(got, "\n"), x.want)
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

// The way to the next cue begins when it becomes the next, and grows when the run is set back.
func TestWay(t *testing.T) {
	var w way
	for _, x := range []struct {
		id           string
		counts, want float64
	}{{"1", 32, 32}, {"1", 12, 32}, {"1", 40, 40}, {"2", 16, 16}, {"2", -1, 16}, {"1", 3, 3}, {"", 0, 0}} {
		v := run.View{}
		if x.id != "" {
			v.Next = &run.NextCue{ID: x.id, Counts: x.counts}
		}
		if w.follow(v); w.counts != x.want {
			t.Errorf("%+v: the way is %v", x, w.counts)
		}
	}
}

func FuzzPicture(f *testing.F) {
	f.Add(uint64(1), 80, 24, "Tpt 3")
	f.Add(uint64(2), 1, 1, "\x1b[31m red")
	f.Add(uint64(3), 60, 16, "東京\u0301\u200d👩‍👩‍👧")
	f.Add(uint64(4), 19, 3, "a\nb\tc\xff")
	f.Add(uint64(5), -1, 300, "")
	f.Fuzz(func(t *testing.T, seed uint64, w, h int, text string) {
		w, h = w%400, h%200
		if len(text) > 200 {
			text = text[:200]
		}
		v, s := randomView(rand.New(rand.NewPCG(seed, 1)), text)
		sound(t, Picture(v, s, w, h), w, h)
	})
}

func TestRandomPictures(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for range 800 {
		v, s := randomView(r, "Ünïcode 東京 \x1b]0;x\a"[:r.IntN(12)])
		w, h := r.IntN(220)-2, r.IntN(70)-2
		if sound(t, Picture(v, s, w, h), w, h); t.Failed() {
			t.Fatalf("%d x %d: %+v %+v", w, h, v, s)
		}
	}
}

// randomView is any view and state at all, with a text here and there.
func randomView(r *rand.Rand, text string) (run.View, State) {
	word := func() string {
		switch r.IntN(5) {
		case 0:
			return ""
		case 1:
			return text
		case 2:
			return strings.Repeat("word ", r.IntN(60))
		}
		return fmt.Sprintf("Tpt %d", r.IntN(100))
	}
	words := func() (list []string) {
		for range r.IntN(8) {
			list = append(list, word())
		}
		return list
	}
	number := func() float64 {
		switch r.IntN(12) {
		case 0:
			return math.NaN()
		case 1:
			return math.Inf(1 - 2*r.IntN(2))
		case 2:
			return 0
		case 3:
			return r.NormFloat64() * 1e9
		}
		return r.NormFloat64() * 40
	}
	next := func() *run.NextCue {
		if r.IntN(4) == 0 {
			return nil
		}
		return &run.NextCue{ID: word(), At: word(), Name: word(), Counts: number(), InS: number(), Opens: words(), Closes: words(), Levels: words(), Moves: r.IntN(30), Besides: words(), ByItself: r.IntN(2) == 0}
	}
	yes := func() bool { return r.IntN(2) == 0 }
	v := run.View{Title: word(), Step: word(), Name: word(), Now: run.Place{Movement: r.IntN(9), Count: number(), Set: word(), BPM: number()}, ShowS: number(), Running: yes(), Rate: number(), BPM: number(),
		Hush: yes(), Next: next(), Self: next(), Holds: words(), Swaps: words(), Nudges: words(), Trouble: word(), AgoS: number()}
	for range r.IntN(60) {
		v.Open = append(v.Open, run.OpenMic{Channel: r.IntN(999), Player: word(), LevelDB: number(), Moving: yes()})
	}
	for range r.IntN(6) {
		v.Desks = append(v.Desks, run.DeskView{To: word(), Up: yes(), Reason: word(), Waiting: yes(), Answers: yes(), Unconfirmed: r.IntN(99), HeardAgoS: number(), InHand: words()})
	}
	s := State{Way: number(), Said: word(), Wrong: yes(), Typing: yes(), Typed: word(), OldS: number()}
	if yes() {
		s.Sheet = words()
	}
	if yes() {
		s.Armed = run.Back
	}
	return v, s
}

// A desk that says nothing any more is not UP.
func TestASilentDesk(t *testing.T) {
	v := run.View{Desks: []run.DeskView{{To: "a", Up: true, Answers: true, Silent: true, HeardAgoS: 7}, {To: "b", Up: true, HeardAgoS: -1}}}
	for rows, want := range map[int]string{30: "SILENT a  it answers nothing", 6: "1 of 2 desks SILENT"} {
		if text := Picture(v, State{}, 80, rows); !strings.Contains(ansi.Strip(text), want) {
			t.Errorf("in %d rows it does not say %q:\n%s", rows, want, text)
		}
	}
}
