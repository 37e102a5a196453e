package compile

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// A fixed mic's sound takes its own latency to the loudspeakers: 2.5 ms less latency is 2.5 ms more delay, by every
// policy. Worn mics keep theirs. A line has no figure for seats in time, and a pit mic no delay unless asked.
func TestLatencyOfEachKind(t *testing.T) {
	for _, policy := range []string{"reference", "most-seats", "least-error", "never-early"} {
		f := base
		f.score = fmt.Sprintf("delay.policy = %q\ndelay.box = \"free\"\n%s", policy, f.score)
		// so far back that no policy stops at 0
		f.rig = strings.Replace(f.rig, "at = { x = 0, y = 0, z = 1 }", "at = { x = 0, y = 30, z = 1 }", 1) + someSeats +
			"[[mic]]\nname = \"synth\"\nkind = \"line\"\nchannel = 10\nat = { x = 2, y = 30, z = 1 }\ndelay = \"auto\"\n" +
			"[[mic]]\nname = \"bells\"\nkind = \"pit\"\nchannel = 11\nat = { x = 2, y = 30, z = 1 }\n"
		f.score += "[[cue]]\nid = \"1\"\nat = \"1:1\"\nopen.feature = [\"A\", \"field\", \"@line\", \"bells\"]\n"
		slow := f.show(t)
		f.rig = strings.Replace(f.rig, `latency = "4 ms"`, `latency = { worn = 4, wired = 1.5, line = 0.5 }`, 1)
		fast := f.show(t)
		for n, want := range map[int]float64{1: 0, 9: 2.5, 10: 3.5, 11: 0} {
			was, is := channelOf(t, slow, "1", n), channelOf(t, fast, "1", n)
			if math.Abs(is.DelayMS-was.DelayMS-want) > 0.11 || n == 11 && is.DelayMS != 0 || n != 11 && is.DelayMS == 0 {
				t.Errorf("%s, channel %d: %g ms, then %g; want %g more", policy, n, was.DelayMS, is.DelayMS, want)
			}
			if (is.Fit == nil) != (n == 10) {
				t.Errorf("%s, channel %d: fit %+v", policy, n, is.Fit)
			}
			if n == 9 && math.Abs(is.Fit.InTime-was.Fit.InTime) > 0.02 {
				t.Errorf("%s: the field mic's seats in time go from %g to %g", policy, was.Fit.InTime, is.Fit.InTime)
			}
		}
		if *fast.Show.Rig.WiredMS != 1.5 || *fast.Show.Rig.LineMS != 0.5 || slow.Show.Rig.WiredMS != nil {
			t.Errorf("%s: the snapshots have %+v", policy, fast.Show.Rig)
		}
	}
}
