package sheet

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"backfield/layout/source"
)

func plan(t *testing.T, text string, lifeMin int) (Batteries, string) {
	t.Helper()
	var p source.Problems
	day := ReadDay(&source.File{Name: "--day", Text: text}, 301, &p)
	b := Plan(day, lifeMin, &p)
	var said strings.Builder
	source.Print(&said, p.All())
	return b, said.String()
}

// Five hours of run time are four to plan with. The morning takes three. In the afternoon they would run for seven:
// they are changed in the break at 12:45, run for four until 17:00, and the show gets fresh ones at 19:30, 15 minutes
// before line-up at 19:45. The show of 5:01 is six minutes long here: 45 + 6 + 15 = 66.
func TestPlanByHand(t *testing.T) {
	b, said := plan(t, "9:00-12:00,13:00-17:00, 20:30 show", 300)
	if said != "" || b.UsableMin != 240 || b.LastMin != 66 {
		t.Errorf("%+v\n%s", b, said)
	}
	want := []BatteryChange{
		{8*60 + 45, "before the first rehearsal", 0, false},
		{12*60 + 45, "in the break", 180, false},
		{19*60 + 30, "before the show", 240, false},
	}
	if !reflect.DeepEqual(b.Changes, want) {
		t.Errorf("%+v", b.Changes)
	}
	runs := []PowerOn{{540, 720, false}, {780, 1020, false}, {19*60 + 45, 20*60 + 30 + 21, true}}
	if !reflect.DeepEqual(b.On, runs) {
		t.Errorf("%+v", b.On)
	}
}

func TestPlan(t *testing.T) {
	for text, c := range map[string]struct {
		life int
		want string // the times of the fittings; ! within a rehearsal
	}{
		"9:00-11:00, 11:30-13:30": {300, "8:45"},               // four hours in all: one set
		"9:00-11:00,11:30-13:31":  {300, "8:45 11:15"},         // one minute more
		"9:00-11:00,11:10-13:30":  {300, "8:45 13:10!"},        // a break of 10 minutes is none
		"9:00-18:00":              {300, "8:45 13:00! 17:00!"}, // nine hours at a stretch
		// Fresh ones at 10:45 would not save the change at 14:00.
		"9:00-10:00,11:00-17:00":                     {300, "8:45 14:00!"},
		"9:00-12:00,13:00-20:00":                     {300, "8:45 12:45 17:00!"}, // here they do
		"9:00-9:20,9:20-12:30,12:30-21:00":           {600, "8:45 17:00!"},
		"7:30 show,8:50-9:05,9:05-12:30,12:30-24:00": {600, "6:30 8:35 16:50!"}, // no break comes after 9:05
		"20:30 show":                         {120, "19:30"},
		"20:30 show,20:40-21:00,21:00-22:20": {194, "19:30"}, // on till 20:51 in any case, 155 minutes in all
		"20:30 show,20:40-21:00,21:00-22:21": {194, "19:30 22:20!"},
		"14:00 show,20:30 show":              {120, "13:00 19:30"},
		// Half an hour: changed at once, on again at 20:15.
		"19:00-20:00,20:30 show": {300, "18:45 20:00"},
		"0:10-1:00":              {300, "23:55 the day before"},
	} {
		b, said := plan(t, text, c.life)
		var got []string
		for _, f := range b.Changes {
			mark := ""
			if f.DuringRehearsal {
				mark = "!"
			}
			got = append(got, ClockText(f.AtMin)+mark)
		}
		if strings.Join(got, " ") != c.want || said != "" {
			t.Errorf("%s on %d min: %v, want %s\n%s", text, c.life, got, c.want, said)
		}
	}
}

// All that is wrong is reported at its place.
func TestBadDay(t *testing.T) {
	for text, want := range map[string][]string{
		"9-12, 13:00-17:00,8:30 show": {"--day:1:1: error: \"9-12\" is neither a rehearsal nor a show",
			"--day:1:19: error: 8:30 show overlaps the entry before it, which ends at 17:00"},
		"12:00-9:00": {"--day:1:1: error: 12:00-9:00 ends before it begins"},
		"9:00-12:60,25:00 show": {"--day:1:1: error: 12:60 is not a time of day",
			"--day:1:12: error: 25:00 is not a time of day"},
		"":                       {"error: an entry of the day is empty"},
		"9:00-12:00,,20:30 show": {"--day:1:12: error: an entry of the day is empty"},
		"19:00-20:20,20:30 show": {"--day:1:13: error: only 10 minutes to change the batteries before the show at 20:30"},
	} {
		_, said := plan(t, text, 300)
		for _, w := range want {
			if !strings.Contains(said, w) {
				t.Errorf("%q lacks %s:\n%s", text, w, said)
			}
		}
		if n := strings.Count(said, " error: "); n != len(want) {
			t.Errorf("%q: %d errors, want %d:\n%s", text, n, len(want), said)
		}
	}
	// 66 minutes on batteries that last 64.
	_, said := plan(t, "20:30 show", 80)
	if !strings.Contains(said, "1 h 6 min, and the batteries last 1 h 4 min") ||
		!strings.Contains(said, "1 h 23 min or more") {
		t.Errorf("%s", said)
	}
	if _, said := plan(t, "20:30 show", 83); said != "" {
		t.Errorf("83 minutes: %s", said)
	}
	for lifeS, ok := range map[float64]bool{5: false, 1799: false, 1800: true, 5 * 3600: true, 1e9: false} {
		if _, fault := CheckLife(lifeS); (fault == nil) != ok {
			t.Errorf("%g s: %v", lifeS, fault)
		}
	}
}

// Of all plans that change on the half hour, none has fewer changes within rehearsals, nor with as few of these fewer
// in all; and none of ours runs longer than it may.
func TestPlanAgainstAllPlans(t *testing.T) {
	const seed, slot, usable = 3, 30, 240
	rnd := rand.New(rand.NewPCG(seed, 0))
	for round := range 300 {
		var entries []string
		var day [][2]int // in slots
		at := 1
		for range 1 + rnd.IntN(4) {
			from := at + rnd.IntN(3)
			to := from + 1 + rnd.IntN(11)
			if to > 47 {
				break
			}
			day = append(day, [2]int{from, to})
			entries = append(entries, fmt.Sprintf("%s-%s", ClockText(from*slot), ClockText(to*slot)))
			at = to + rnd.IntN(2) // at once, or after a break
		}
		b, said := plan(t, strings.Join(entries, ","), 300)
		if said != "" {
			t.Fatalf("%v: %s", entries, said)
		}
		// try all: ran in slots; a change before any slot of a rehearsal, one in the break before an entry.
		bestWithin, bestAll := 99, 99
		var try func(i, slotAt, ran, within, all int)
		try = func(i, slotAt, ran, within, all int) {
			if ran > usable/slot || within > bestWithin || within == bestWithin && all >= bestAll {
				return
			}
			if i == len(day) {
				bestWithin, bestAll = within, all
				return
			}
			switch {
			case slotAt == day[i][1]:
				next := 0
				if i+1 < len(day) {
					next = day[i+1][0]
				}
				try(i+1, next, ran, within, all)
				if next > day[i][1] {
					try(i+1, next, 0, within, all+1)
				}
			default:
				try(i, slotAt+1, ran+1, within, all)
				if slotAt > day[i][0] || i > 0 && slotAt == day[i-1][1] {
					try(i, slotAt+1, 1, within+1, all+1)
				}
			}
		}
		try(0, day[0][0], 0, 0, 1)
		within := 0
		for _, f := range b.Changes {
			if f.DuringRehearsal {
				within++
			}
			if f.RanMin > usable {
				t.Fatalf("%v: %+v", entries, f)
			}
		}
		if b.LastMin > usable || within != bestWithin || len(b.Changes) != bestAll {
			t.Errorf("seed %d, round %d, %v: %d within of %d; best %d of %d", seed, round, entries, within, len(b.Changes),
				bestWithin, bestAll)
		}
	}
}

// Whatever is written, a day comes out in order, or a problem is reported; and no plan lets a set run longer than it may.
func FuzzDay(f *testing.F) {
	for _, text := range []string{"9:00-12:00,13:00-17:00,20:30 show", "9-12", "23:59 show", ",,", "0:00-24:00",
		"12:00-9:00,8:30 SHOW", "9:00 – 10:00"} {
		f.Add(text, 300)
	}
	f.Fuzz(func(t *testing.T, text string, lifeMin int) {
		if lifeMin < leastRunMin || lifeMin > 7*24*60 {
			return
		}
		var p source.Problems
		day := ReadDay(&source.File{Name: "--day", Text: text}, 301, &p)
		if len(day) == 0 && p.Errors() == 0 {
			t.Fatalf("%q: nothing, and no fault", text)
		}
		for i := 1; i < len(day); i++ {
			if day[i].FromMin < day[i-1].ToMin {
				t.Fatalf("%q: %+v", text, day)
			}
		}
		b := Plan(day, lifeMin, &p)
		for _, x := range b.Changes {
			if x.RanMin > b.UsableMin {
				t.Fatalf("%q on %d min: %+v", text, lifeMin, b)
			}
		}
		if b.LastMin > b.UsableMin || p.Errors() == 0 && len(b.On) != len(day) {
			t.Fatalf("%q on %d min: %+v", text, lifeMin, b)
		}
	})
}
