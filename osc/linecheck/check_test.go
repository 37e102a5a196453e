package linecheck_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/osc/linecheck"
	"backfield/osc/waiting"
)

func TestMain(m *testing.M) { os.Exit(waiting.Run(m)) }

// field is a check with mixers that confirm at once, in virtual time.
type field struct {
	t       *testing.T
	check   *linecheck.Check
	now     time.Time
	record  linecheck.Record
	silent  bool // the mixers answer nothing
	blind   bool // they cannot confirm
	presses int
}

var start = time.Date(2026, 10, 3, 18, 0, 0, 0, time.UTC)

func packs(n int) (list []linecheck.CheckedPack) {
	for i := range n {
		list = append(list, linecheck.CheckedPack{Pack: fmt.Sprintf("P%02d", i+1), Channel: i + 1,
			Player: fmt.Sprintf("Tpt %d", i+1), Section: "trumpet"})
	}
	return list
}

func names(list []linecheck.CheckedPack) (names []string) {
	for _, p := range list {
		names = append(names, p.Player)
	}
	return append(names, "Guard 1")
}

func newField(t *testing.T, list []linecheck.CheckedPack) *field {
	f := &field{t: t, now: start}
	f.record.Entries = []linecheck.CheckEntry{{At: f.now, Kind: linecheck.KindStart, Format: linecheck.Format}}
	f.again(list)
	return f
}

// again starts a check from what was recorded.
func (f *field) again(list []linecheck.CheckedPack) {
	f.check = linecheck.New(list, f.record, linecheck.CheckOptions{
		Names: names(list), Record: func(e linecheck.CheckEntry) { f.record.Entries = append(f.record.Entries, e) },
	}, f.now)
	f.settle()
}

// settle lets time pass until nothing is on the way, or for three seconds.
func (f *field) settle() {
	for range 300 {
		want := f.check.Want()
		state := linecheck.MixerState{Confirms: !f.blind, AllClosed: !f.blind && want == 0, IsOpen: !f.blind && want > 0}
		if f.silent {
			state = linecheck.MixerState{Confirms: !f.blind, Problem: "NO REPLY FROM MIXER: check power and cable"}
		}
		f.check.See(state, f.now)
		f.now = f.now.Add(10 * time.Millisecond)
		if f.check.Settled(f.now) {
			return
		}
	}
}

func (f *field) press(key linecheck.CheckKey, who string) string {
	f.t.Helper()
	said, err := f.check.Press(linecheck.CheckPress{Key: key, Who: who}, f.now)
	if err != nil {
		f.t.Fatalf("%s %s: %v", key, who, err)
	}
	f.presses++
	f.settle()
	return said
}

func (f *field) refused(p linecheck.CheckPress, words string) {
	f.t.Helper()
	before := f.check.View(f.now)
	if said, err := f.check.Press(p, f.now); err == nil || !strings.Contains(err.Error(), words) {
		f.t.Errorf("%s: said %q, error %v, want %q", p.Key, said, err, words)
	}
	if after := f.check.View(f.now); fmt.Sprint(after.Seq, after.Failed, after.Phase) !=
		fmt.Sprint(before.Seq, before.Failed, before.Phase) {
		f.t.Errorf("%s was refused and changed something", p.Key)
	}
}

// TestTwentyPacks checks 20 packs of which 17 are good, one is dead, and two are swapped: a press for each pack, and one
// more for each fix.
func TestTwentyPacks(t *testing.T) {
	t.Parallel()
	f := newField(t, packs(20))
	for i := range 20 {
		if v := f.check.View(f.now); v.Pack.Channel != i+1 || f.check.Want() != i+1 || v.Phase != linecheck.Open {
			t.Fatalf("pack %d: %+v, wants channel %d", i+1, v, f.check.Want())
		}
		switch i + 1 {
		case 3:
			f.press(linecheck.KeyWrong, "Tpt 7")
		case 5:
			f.press(linecheck.KeyNoSound, "")
		case 7:
			if v := f.check.View(f.now); v.Expected != "Tpt 3" || f.check.Players()[0] != "Tpt 3" {
				t.Errorf("the screen does not expect Tpt 3: %+v, %v", v, f.check.Players())
			}
			if said := f.press(linecheck.KeyWrong, "tpt3"); !strings.Contains(said, "SWAPPED PACKS: Tpt 3 and Tpt 7") {
				t.Errorf("swapped packs: said %q", said)
			}
		default:
			f.press(linecheck.KeyGood, "")
		}
	}
	if v := f.check.View(f.now); v.Phase != linecheck.Done || v.Left != 0 || v.Good != 17 || f.check.Want() != 0 {
		t.Fatalf("at the end: %+v", v)
	}
	want := []linecheck.Fix{{Kind: linecheck.Swapped, Packs: []string{"P03", "P07"}},
		{Kind: linecheck.Dead, Packs: []string{"P05"}}}
	for _, w := range want {
		fix, ok := f.check.Offer()
		if !ok || !fix.Same(w) {
			t.Fatalf("offer %v, want %v", fix, w)
		}
		f.check.Fixed(fix, "", f.now)
		f.presses++
	}
	if fix, ok := f.check.Offer(); ok || len(f.check.View(f.now).Failed) > 0 {
		t.Errorf("all is fixed, but there is %v, %v", fix, f.check.View(f.now).Failed)
	}
	if f.presses != 22 {
		t.Errorf("%d presses for 20 packs and 2 fixes", f.presses)
	}
	if took := f.now.Sub(start); took > 20*time.Second {
		t.Errorf("20 packs take %v of waiting", took)
	}
}

// TestAlone holds the check to one open channel at a time: no channel is wanted before the mixers say that all are closed.
func TestAlone(t *testing.T) {
	t.Parallel()
	f := newField(t, packs(3))
	if _, err := f.check.Press(linecheck.CheckPress{Key: linecheck.KeyGood}, f.now); err != nil {
		t.Fatal(err)
	}
	open := linecheck.MixerState{Confirms: true}
	for range 1000 { // ten seconds in which the mixers do not say that the first one is closed
		f.now = f.now.Add(10 * time.Millisecond)
		if f.check.See(open, f.now); f.check.Want() != 0 {
			t.Fatalf("channel %d is to open, and channel 1 is not known to be closed", f.check.Want())
		}
	}
	f.check.See(linecheck.MixerState{Confirms: true, AllClosed: true}, f.now)
	if f.check.Want() != 2 {
		t.Fatalf("all are closed: wants %d", f.check.Want())
	}
	f.refused(linecheck.CheckPress{Key: linecheck.KeyGood}, "not open yet")
	f.check.See(linecheck.MixerState{Confirms: true, IsOpen: true}, f.now)
	if v := f.check.View(f.now); v.Phase != linecheck.Open {
		t.Errorf("confirmed, but %s", v.Phase)
	}
	f.check.See(linecheck.MixerState{Confirms: true}, f.now) // somebody muted it
	f.refused(linecheck.CheckPress{Key: linecheck.KeyNoSound}, "not open yet")
}

func TestPresses(t *testing.T) {
	t.Parallel()
	f := newField(t, packs(4))
	seq := f.check.View(f.now).Seq
	if _, err := f.check.Press(linecheck.CheckPress{Key: linecheck.KeyGood, Seq: seq}, f.now); err != nil {
		t.Fatal(err)
	}
	f.refused(linecheck.CheckPress{Key: linecheck.KeyGood, Seq: seq}, "another pack is open by now") // a second page, or a late one
	f.refused(linecheck.CheckPress{Key: linecheck.KeyGood}, "pressed twice within 400 ms")
	f.settle()
	f.refused(linecheck.CheckPress{Key: linecheck.KeyWrong}, "who was heard?")
	f.refused(linecheck.CheckPress{Key: linecheck.KeyWrong, Who: "Tpt 33"}, `did you mean "Tpt 3"?`)
	f.refused(linecheck.CheckPress{Key: linecheck.KeyWrong, Who: "tpt 2"}, "that is good")
	f.refused(linecheck.CheckPress{Key: "loud"}, `no key "loud"`)
	f.refused(linecheck.CheckPress{Key: linecheck.KeyOpen}, "nothing was closed")
	f.press(linecheck.KeyWrong, "P04") // by the label of the pack
	if got := f.check.View(f.now).Failed; !slices.Equal(got, []string{"P02 Tpt 2: wrong player: Tpt 4 was heard"}) {
		t.Errorf("failed: %q", got)
	}
	f.press(linecheck.KeyBack, "")
	if v := f.check.View(f.now); v.Pack.Pack != "P02" || v.Before != "wrong player: Tpt 4 was heard" {
		t.Errorf("back: %+v", v)
	}
	f.press(linecheck.KeyGood, "")
	if v := f.check.View(f.now); v.Pack.Pack != "P03" || v.Failed != nil {
		t.Errorf("after back, on to the next one that is left: %+v", v)
	}
	f.press(linecheck.KeyClose, "")
	if f.check.Want() != 0 {
		t.Error("close has not closed")
	}
	f.refused(linecheck.CheckPress{Key: linecheck.KeyGood}, "every mic is closed")
	f.press(linecheck.KeyOpen, "")
	f.press(linecheck.KeySkip, "")
	f.press(linecheck.KeyNoise, "")
	f.refused(linecheck.CheckPress{Key: linecheck.KeyGood}, "no pack is open")
	f.press(linecheck.KeyAgain, "")
	if v := f.check.View(f.now); v.Pack.Pack != "P03" || v.Left != 2 {
		t.Errorf("again: %+v", v)
	}
	f.press(linecheck.KeyGood, "")
	if said := f.press(linecheck.KeyGood, ""); said != "P04, Tpt 4: good" {
		t.Errorf("said %q", said)
	}
	f.refused(linecheck.CheckPress{Key: linecheck.KeyAgain}, "every pack is good")
	for range 6 {
		f.check.Press(linecheck.CheckPress{Key: linecheck.KeyBack}, f.now)
		f.settle()
	}
	if v := f.check.View(f.now); v.Pack.Pack != "P01" {
		t.Errorf("back to the start: %+v", v)
	}
	f.refused(linecheck.CheckPress{Key: linecheck.KeyBack}, "none to go back to")
}

// TestMixers is about mixers that answer nothing, and those that cannot confirm.
func TestMixers(t *testing.T) {
	t.Parallel()
	f := newField(t, packs(3))
	f.silent = true
	f.press(linecheck.KeyGood, "")
	if v := f.check.View(f.now); v.Phase != linecheck.Closing || f.check.Want() != 0 || v.Problem == "" {
		t.Errorf("a silent mixer: %+v", v)
	}
	f.refused(linecheck.CheckPress{Key: linecheck.KeyNoSound}, "not open yet: NO REPLY FROM MIXER")
	f.press(linecheck.KeySkip, "") // it can be passed over
	f.silent = false
	f.settle()
	if v := f.check.View(f.now); v.Phase != linecheck.Open || v.Pack.Pack != "P03" {
		t.Errorf("the mixer is back: %+v", v)
	}
	f.blind = true
	before := f.now
	f.press(linecheck.KeyGood, "") // on to none
	f.press(linecheck.KeyBack, "")
	if v := f.check.View(f.now); v.Phase != linecheck.Open || f.now.Sub(before) < 1200*time.Millisecond {
		t.Errorf("a mixer that cannot confirm has its time: %s after %v", v.Phase, f.now.Sub(before))
	}
}

// TestRing has three players who each have the next one's pack. No row of tonight.toml says that.
func TestRing(t *testing.T) {
	t.Parallel()
	f := newField(t, packs(4))
	f.press(linecheck.KeyWrong, "Tpt 2")
	f.press(linecheck.KeyWrong, "Tpt 3")
	said := f.press(linecheck.KeyWrong, "Tpt 1")
	if !strings.Contains(said, "MIXED-UP PACKS: Tpt 1 has P03, Tpt 2 has P01, Tpt 3 has P02: have them trade back") {
		t.Errorf("said %q", said)
	}
	if fix, ok := f.check.Offer(); ok {
		t.Errorf("offers %v", fix)
	}
	if said := f.press(linecheck.KeyWrong, "Guard 1"); strings.Contains(said, "PACKS") {
		t.Errorf("said %q", said)
	}
}

// TestContradiction has a player who is heard in two packs, and a row of tonight.toml that is no longer right.
func TestContradiction(t *testing.T) {
	t.Parallel()
	f := newField(t, packs(3))
	f.press(linecheck.KeyWrong, "Tpt 2")
	if said := f.press(linecheck.KeyGood, ""); !strings.Contains(said, "Tpt 2 was heard in P01 too") {
		t.Errorf("said %q", said)
	}
	f.press(linecheck.KeyNoSound, "")
	fix, _ := f.check.Offer()
	f.check.Fixed(fix, "", f.now)
	f.press(linecheck.KeyBack, "")
	if said := f.press(linecheck.KeyGood, ""); !strings.Contains(said, `tonight.toml still has it under "dead"`) {
		t.Errorf("said %q", said)
	}
}

// TestGoesOn ends a check after each press and starts it again from its record as it is in the file.
func TestGoesOn(t *testing.T) {
	t.Parallel()
	list := packs(5)
	f := newField(t, list)
	f.press(linecheck.KeyBatteries, "")
	keys := []linecheck.CheckKey{linecheck.KeyGood, linecheck.KeyNoise, linecheck.KeySkip, linecheck.KeyGood, linecheck.KeyGood}
	for i, key := range keys {
		f.press(key, "")
		var file []byte
		for _, e := range f.record.Entries {
			line, err := e.Line()
			if err != nil {
				t.Fatal(err)
			}
			file = append(file, line...)
		}
		record, bad := linecheck.Read(append(file, `{"at":"2026-10-03T18:0`...)) // cut off by a loss of power
		if len(bad) != 1 || bad[0].Line != len(f.record.Entries)+1 {
			t.Fatalf("bad lines: %v", bad)
		}
		f.record = record
		f.again(list)
		want := []string{"P02", "P03", "P03", "P03", "P03"}[i] // a skipped one comes first again
		if i == 2 {
			f.press(linecheck.KeyGood, "")
			want = "P04"
		} else if i > 2 {
			want = []string{"P05", ""}[i-3]
		}
		got := ""
		if v := f.check.View(f.now); v.Pack != nil {
			got = v.Pack.Pack
		}
		if got != want {
			t.Errorf("after %d presses it goes on at %q, want %q", i+1, got, want)
		}
	}
	list[0].Player, list[1].Channel = "Tpt 9", 40 // the roster has changed: these are other packs now
	f.now = f.now.Add(70 * time.Minute)
	f.again(list)
	if v := f.check.View(f.now); v.Left != 2 || v.Pack.Pack != "P01" || v.Batteries != "batteries changed 1 h 10 min ago" {
		t.Errorf("after a change of the roster: %+v", v)
	}
}

// TestRandom presses keys at random, with mixers that answer late or not at all, and holds the check to what must always
// be so.
func TestRandom(t *testing.T) {
	t.Parallel()
	keys := []linecheck.CheckKey{linecheck.KeyGood, linecheck.KeyNoSound, linecheck.KeyNoise, linecheck.KeyWrong,
		linecheck.KeySkip, linecheck.KeyBack, linecheck.KeyClose, linecheck.KeyOpen, linecheck.KeyAgain,
		linecheck.KeyBatteries}
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 1))
		list := packs(1 + r.IntN(8))
		f := newField(t, list)
		f.blind = r.IntN(4) == 0
		for range 60 {
			f.silent = r.IntN(5) == 0
			before := f.check.Want()
			key := keys[r.IntN(len(keys))]
			p := linecheck.CheckPress{Key: key, Who: names(list)[r.IntN(len(list)+1)], Seq: r.IntN(2) * f.check.View(f.now).Seq}
			_, err := f.check.Press(p, f.now)
			after := f.check.Want()
			if after != 0 && after != before {
				t.Fatalf("seed %d: %s goes from channel %d to %d without closing", seed, key, before, after)
			}
			if err != nil && key != linecheck.KeyWrong && after != before {
				t.Fatalf("seed %d: %s was refused and changed the channel", seed, key)
			}
			if r.IntN(3) > 0 {
				f.settle()
			}
			v := f.check.View(f.now)
			if v.Left+f.check.Judged() != v.Of || (v.Phase == linecheck.Done) != (v.Pack == nil && f.check.Want() == 0 &&
				v.Phase == linecheck.Done) {
				t.Fatalf("seed %d: %+v", seed, v)
			}
			if fix, ok := f.check.Offer(); ok && r.IntN(2) == 0 {
				f.check.Fixed(fix, "", f.now)
				if again, ok := f.check.Offer(); ok && again.Same(fix) {
					t.Fatalf("seed %d: %v is offered again", seed, fix)
				}
			}
		}
		f.silent = false
		f.settle()
		left := f.check.View(f.now).Left
		f.again(list)
		if now := f.check.View(f.now).Left; now < left && !slices.ContainsFunc(f.record.Entries, judged) {
			t.Fatalf("seed %d: %d packs are left, %d after a new start", seed, left, now)
		}
	}
}

func judged(e linecheck.CheckEntry) bool { return e.Kind == linecheck.KindJudged }

func TestRead(t *testing.T) {
	t.Parallel()
	text := `{"at":"2026-10-03T17:00:00Z","kind":"start","format":1}
{"at":"2026-10-03T17:01:00Z","kind":"judged","pack":"P01","result":"good"}
{"at":"2026-10-03T17:01:00Z","kind":"judged","pack":"P01","result":"fine"}
noise
{"kind":"end"}
{"at":"2026-10-03T17:02:00Z","kind":"fixed","fix":{"kind":"swapped","packs":["P01"]}}
{"at":"2026-10-03T17:03:00Z","kind":"batteries","pack":"P01"}
{"at":"2026-10-03T18:00:00Z","kind":"start","format":1}
{"at":"2026-10-03T18:01:00Z","kind":"judged","pack":"P02","result":"no sound"}
{"at":"2026-10-03T18:02:00Z","kind":"judged","pack":"P03","result":"wrong player","heard":"Tpt 1"}
{"at":"2026-10-03T18:03:00Z","kind":"fixed","fix":{"kind":"dead","packs":["P02"]}}
{"at":"2026-10-03T18:04:00Z","kind":"judged","pack":"P04","result":"good"}
{"at":"2026-10-03T18:05:00Z","kind":"start","format":2}
`
	r, bad := linecheck.Read([]byte(text))
	var where []string
	for _, b := range bad {
		where = append(where, b.Error())
	}
	want := []string{
		`line 3: "pack" or "result" is missing: "{\"at\":\"2026-10-03T17:01:00Z\",\"kind\":\"judged\",\"pack\":\"P01\"..."`,
		`line 4: not an entry of a line check: "noise"`, `line 5: "at" is missing: "{\"kind\":\"end\"}"`,
		`line 6: "fix" is missing: "{\"at\":\"2026-10-03T17:02:00Z\",\"kind\":\"fixed\",\"fix\":{\"kind\"..."`,
		`line 13: format 2 is of a newer backfield: "{\"at\":\"2026-10-03T18:05:00Z\",\"kind\":\"start\",\"format\":2}"`,
	}
	if !slices.Equal(where, want) {
		t.Errorf("bad lines:\n%s", strings.Join(where, "\n"))
	}
	var failed []string
	for _, e := range r.Failed() {
		failed = append(failed, fmt.Sprint(e.Pack, " ", e.Result, " ", linecheck.Covered(r.Fixes(), e)))
	}
	if want := []string{"P02 no sound true", "P03 wrong player false"}; !slices.Equal(failed, want) {
		t.Errorf("failed: %q", failed)
	}
	if len(r.Judged()) != 3 || len(r.Latest()) != 5 || r.Batteries()["P01"].IsZero() || !r.At().Equal(start.Add(4*time.Minute)) {
		t.Errorf("latest: %v", r.Latest())
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"at":"2026-10-03T17:00:00Z","kind":"start","format":1}` + "\n" +
		`{"at":"2026-10-03T17:00:00Z","kind":"judged","pack":"P01","channel":1,"player":"Tpt 1","result":"noise"}`))
	f.Add([]byte(`{"at":"2026-10-03T18:03:00Z","kind":"fixed","fix":{"kind":"dead","packs":["P01"]}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, bad := linecheck.Read(data)
		var again []byte
		for _, e := range r.Entries {
			line, err := e.Line()
			if err != nil {
				return // a year that JSON cannot have
			}
			again = append(again, line...)
		}
		if second, worse := linecheck.Read(again); len(worse) > 0 || len(second.Entries) != len(r.Entries) {
			t.Fatalf("%d entries, %d when read again: %v, %v", len(r.Entries), len(second.Entries), bad, worse)
		}
		c := linecheck.New(packs(3), r, linecheck.CheckOptions{Names: names(packs(3))}, start)
		c.View(start)
		c.Summary()
	})
}
