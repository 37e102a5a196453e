package propose

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"backfield/cue/balance"
	"backfield/cue/keep"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// mic is an open mic of a test's cue: "Tpt 1" of trumpet, featured unless it has a "-" in front; a name without a number
// is a fixed mic.
type mic struct {
	name   string
	loopDB float64
}

// cueOf is a computed cue in which a role's mics want a change, on the readings of a night.
func cueOf(i int, role string, changeDB float64, mics ...mic) *balance.CueLoudness {
	c := &balance.CueLoudness{Cue: i, Role: role, Measured: advice.Measured{Noise: true, Brass: true},
		Advice: &advice.Proposal{ChangeDB: changeDB}}
	gains, playing := &level.LoopGains{}, &level.Playing{}
	for _, m := range mics {
		name, behind := strings.CutPrefix(m.name, "-")
		section, _, worn := strings.Cut(name, " ")
		loop := level.MicLoop{Name: name, Fixed: !worn, Featured: worn && !behind}
		loop.Loop[2] = level.Energy(m.loopDB)
		gains.Mics = append(gains.Mics, loop)
		if worn {
			playing.Worn = append(playing.Worn, level.WornMic{Strip: level.Strip{Name: name}, Wearer: len(playing.Performers)})
			playing.Performers = append(playing.Performers, level.Performer{Section: section, Featured: !behind})
		}
	}
	c.Ends = [2]balance.EndScene{{Playing: playing}, {Playing: playing}}
	c.Loops = []balance.LoopMoment{{Gains: gains}}
	return c
}

func planOf(cues ...*balance.CueLoudness) *LevelPlan { return planAt(0, cues...) }

// planAt is the plan with a level of the role feature; solo is at 2 dB.
func planAt(featureDB float64, cues ...*balance.CueLoudness) *LevelPlan {
	s := &score.Score{Roles: []score.Role{{Name: "solo", LevelDB: 2}, {Name: "feature", LevelDB: featureDB}}}
	s.Goals.MarginDB = 6
	var ids []string
	for i := range cues {
		ids = append(ids, fmt.Sprint(i+1))
	}
	return New(&work.CompileSetup{Files: &timeline.Files{Score: s}}, ids, cues)
}

// Whole dB, downward, and nothing under 2 dB.
func TestWhole(t *testing.T) {
	for _, x := range [][2]float64{{0, 0}, {1.5, 0}, {2, 2}, {4.5, 4}, {-1, 0}, {-1.5, -2}, {-4.5, -5}, {5 - 1e-12, 5}} {
		if got := Whole(x[0]); got != x[1] {
			t.Errorf("Whole(%g) = %g, want %g", x[0], got, x[1])
		}
	}
}

// A role takes the median of what its cues want, by hand: 3, 4, 8 is 4, and the third is nudged by 4. A role whose cues
// want less than 2 dB stays; the cue that wants more is nudged. Sections whose open mics are all featured go by their
// group. What was not measured has no say.
func TestRolesAndNudges(t *testing.T) {
	unread := cueOf(5, "solo", 20, mic{"tpt 1", -40})
	unread.Measured.Brass = false
	got := planOf(
		cueOf(0, "solo", 3, mic{"tpt 1", -40}),
		cueOf(1, "solo", 4, mic{"tpt 1", -40}, mic{"tpt 2", -40}, mic{"-horn 1", -40}),
		cueOf(2, "solo", 8, mic{"tpt 1", -40}, mic{"-tpt 2", -40}),
		cueOf(3, "feature", 1, mic{"tpt 1", -40}, mic{"tpt 2", -40}, mic{"tpt 3", -40}),
		cueOf(4, "feature", 6, mic{"tpt 1", -40}, mic{"tpt 2", -40}, mic{"horn 1", -40}),
		unread,
	)
	want := &LevelPlan{
		Changes: keep.Changes{
			Roles: []keep.RoleStep{{Role: "solo", DB: 4}, {Role: "feature", DB: 3}},
			Nudges: []keep.KeptNudge{{Cue: "3", Name: "tpt 1", DB: 4}, {Cue: "4", Name: "@tpt", DB: -2},
				{Cue: "5", Name: "@tpt", DB: 3}, {Cue: "5", Name: "horn 1", DB: 3}},
		},
		Levels: []RoleLevel{{"solo", 2, 4, 6}, {"feature", 0, 3.5, 3}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
}

// [mix] has one level for a role: it goes by the group with more cues, and the other group is nudged.
func TestGroupsOfARole(t *testing.T) {
	got := planOf(
		cueOf(0, "feature", -6, mic{"tpt 1", -40}, mic{"tpt 2", -40}, mic{"tpt 3", -40}),
		cueOf(1, "feature", 3, mic{"tpt 1", -40}),
		cueOf(2, "feature", 3, mic{"tpt 1", -40}),
	).Changes
	want := keep.Changes{Roles: []keep.RoleStep{{Role: "feature", DB: 3}},
		Nudges: []keep.KeptNudge{{Cue: "1", Name: "@tpt", DB: -9}}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v\nwant %+v", got, want)
	}
}

// A role that would pass another one in a cue stays, since that cue would feature the other: its cues are nudged. By hand:
// solo at 2 dB down 3 is under feature at 0, with which it is open in cue 2; of two equal roles neither moves alone.
func TestFeaturedStayFeatured(t *testing.T) {
	cues := func(worn ...string) []*balance.CueLoudness {
		a, b := cueOf(0, "solo", -3, mic{"tpt 1", -40}), cueOf(1, "solo", -3, mic{"tpt 2", -40}, mic{"-horn 1", -40})
		a.Worn, b.Worn = []string{"solo"}, worn
		return []*balance.CueLoudness{a, b}
	}
	step := keep.Changes{Roles: []keep.RoleStep{{Role: "solo", DB: -3}}}
	nudges := keep.Changes{Nudges: []keep.KeptNudge{{Cue: "1", Name: "tpt 1", DB: -3}, {Cue: "2", Name: "tpt 2", DB: -3}}}
	for _, c := range []struct {
		featureDB float64
		worn      []string
		want      keep.Changes
	}{
		{0, []string{"solo"}, step}, {-2, []string{"solo", "feature"}, step}, {-1, []string{"solo", "feature"}, nudges},
		{0, []string{"solo", "feature"}, nudges}, {2, []string{"solo", "feature"}, nudges},
	} {
		got := planAt(c.featureDB, cues(c.worn...)...)
		got.Changes.Roles = append([]keep.RoleStep(nil), got.Changes.Roles...)
		if !reflect.DeepEqual(got.Changes, c.want) || len(got.Levels) != len(c.want.Roles) {
			t.Errorf("feature at %g dB, open %v: got %+v, want %+v", c.featureDB, c.worn, got, c.want)
		}
	}
}

// Fixed mics that are too close to feedback come down to the same loop, and no others. By hand: loops of -3 and -9 dB
// total -2.03 dB with one of -40; both at -9 total -5.99, over the margin of 6, so both come down to -9.5, by 6.5 and
// 0.5: 7 dB, and 2 as the least that is proposed. Worn mics that are too close alone are left.
func TestFixedMicsComeDown(t *testing.T) {
	got := planOf(
		cueOf(0, "solo", 0, mic{"tpt 1", -40}, mic{"grass", -3}, mic{"pit", -9}, mic{"far", -20}),
		cueOf(1, "solo", 0, mic{"tpt 1", -40}, mic{"grass", -9}),
		cueOf(2, "solo", 0, mic{"tpt 1", -4}, mic{"grass", -30}),
	)
	want := []keep.Trim{{Name: "grass", DB: -7}, {Name: "pit", DB: -2}}
	if !reflect.DeepEqual(got.Trims, want) {
		t.Errorf("got %+v, want %+v", got.Trims, want)
	}
	if len(got.Left) != 1 || got.Left[0].Cue != "3" || math.Abs(got.Left[0].OverDB-2) > 1e-9 {
		t.Errorf("left: %+v", got.Left)
	}
}
