package main

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/parts"
	"backfield/cue/work"
	"backfield/layout/source"
)

// demoFigures are what the paths of a show are worth, over the time in which worn mics are open.
type demoFigures struct {
	in30, plus2, in20, echo, noEcho float64 // percent of seat-time
	box5, box50, box95              float64 // arrival gap at the press box, ms
	boxLeast, boxMost               float64
	worstStepMS                     float64
	innerKnots                      int
	stretches                       int
	openS                           float64
}

// measureDemo is the figures of a compiled show.
func measureDemo(s *show.Loaded) demoFigures { return measurePlayed(s, &parts.Lanes{}) }

// measurePlayed is the same over the time in which the wearers play, as far as that is known.
func measurePlayed(s *show.Loaded, lanes *parts.Lanes) (f demoFigures) {
	type gap struct{ ms, weight float64 }
	var gaps []gap
	needs := s.Setup.Listeners.SeatNeeds()
	seats := s.Rig.Seats()
	total := 0.0
	for _, seat := range seats {
		total += seat.Weight
	}
	f.boxLeast, f.boxMost = math.Inf(1), math.Inf(-1)
	seen := map[*work.MicStretch]bool{}
	for _, open := range s.Derivations {
		for _, w := range open {
			if w.Stretch == nil || s.Lines.List[w.Line].Fixed != nil || seen[w.Stretch] {
				continue
			}
			x := w.Stretch
			seen[x] = true
			f.stretches++
			forced := 2
			for k, at := range x.Samples {
				if at.IsCue {
					forced++
				}
				if lane := lanes.Of(x.Name, at.Movement); lane != nil {
					if _, plays := lane.Playing(at.Elapsed); !plays {
						continue
					}
				}
				if k > 0 && at.StepS > 0 && at.StepS < 1 {
					f.worstStepMS = max(f.worstStepMS, math.Abs(x.SentMS[k]-x.SentMS[k-1])*min(1, 0.02/at.StepS))
				}
				f.openS += at.WeightS
				late := x.SentMS[k] - x.NeedMS[k]
				gaps = append(gaps, gap{late, at.WeightS})
				f.boxLeast, f.boxMost = min(f.boxLeast, late), max(f.boxMost, late)
				needs.Hear(s.Setup.GainsAt(x.Want[k]), at.At)
				for j, need := range needs.MS {
					v, e := at.WeightS*seats[j].Weight/total, x.SentMS[k]-need
					in := func(least, most float64) bool { return e >= least-1e-9 && e <= most+1e-9 }
					if in(0, 30) {
						f.in30 += v
						if !needs.EchoAt(x.SentMS[k], j) {
							f.noEcho += v
						}
					}
					if in(2, 32) {
						f.plus2 += v
					}
					if in(0, 20) {
						f.in20 += v
					}
				}
				f.echo += needs.Echo(x.SentMS[k]) * at.WeightS
			}
			f.innerKnots += len(x.Knots) - forced
		}
	}
	for _, v := range []*float64{&f.in30, &f.plus2, &f.in20, &f.echo, &f.noEcho} {
		*v *= 100 / f.openS
	}
	slices.SortFunc(gaps, func(a, b gap) int { return cmp.Compare(a.ms, b.ms) })
	sum := 0.0
	for _, g := range gaps {
		for _, at := range []struct {
			part float64
			to   *float64
		}{{0.05, &f.box5}, {0.5, &f.box50}, {0.95, &f.box95}} {
			if sum < at.part*f.openS && sum+g.weight >= at.part*f.openS {
				*at.to = g.ms
			}
		}
		sum += g.weight
	}
	return f
}

func (f demoFigures) String() string {
	return fmt.Sprintf("%.1f | %.1f | %.1f | %.1f | %.1f | %.1f, %.1f, %.1f (%.1f to %.1f) | %.2f | %d | %d, %.0f s",
		f.in30, f.plus2, f.in20, f.echo, f.noEcho, f.box5, f.box50, f.box95, f.boxLeast, f.boxMost, f.worstStepMS,
		f.innerKnots, f.stretches, f.openS)
}

// loadDemo loads the demo in stereo or with zones, with changes of its files.
func loadDemo(t *testing.T, zones bool, change map[string][2]string) *show.Loaded {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../examples/harbor")); err != nil {
		t.Fatal(err)
	}
	for name, c := range change {
		file := filepath.Join(dir, name)
		text, err := os.ReadFile(file)
		if err != nil || !strings.Contains(string(text), c[0]) {
			t.Fatalf("%s: %v, or no %q", name, err, c[0])
		}
		if err := os.WriteFile(file, []byte(strings.Replace(string(text), c[0], c[1], 1)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	o := show.LoadOptions{}
	if zones {
		o.Venue = filepath.Join(dir, "venues/lantern-quay-zones.toml")
	}
	var p source.Problems
	s, err := show.Load(show.Disk{}, filepath.Join(dir, "show.toml"), o, &p)
	if err != nil || s.Result.Show == nil {
		var b strings.Builder
		source.Print(&b, p.All())
		t.Fatalf("%v\n%s", err, b.String())
	}
	return s
}

// TestDemoPaths measures the demo, in stereo and with zones, and holds it to what paths must reach.
func TestDemoPaths(t *testing.T) {
	stereo, zones := measureDemo(compiledOnce()), measureDemo(zonedOnce())
	t.Logf("in30 | +2 | in20 | echo | no echo | box | worst step in 20 ms | inner knots\nstereo %v\nzones  %v", stereo, zones)
	for _, c := range []struct {
		name              string
		f                 demoFigures
		in30, plus2, fall float64
		knots             int
	}{{"stereo", stereo, 60, 56, 5, 160}, {"zones", zones, 82.5, 79, 4, 270}} {
		if c.f.in30 < c.in30 || c.f.plus2 < c.plus2 || c.f.in30-c.f.plus2 > c.fall || c.f.boxLeast < 4 ||
			c.f.boxMost > 21.05 || c.f.worstStepMS > 0.26 || c.f.innerKnots > c.knots {
			t.Errorf("%s: %v", c.name, c.f)
		}
	}
}

var figures = flag.Bool("figures", false, "measure the demo by all kinds of mixers and rules")

// TestDemoFigures prints what the rules that the demo does not use, and other mixers, make of it.
func TestDemoFigures(t *testing.T) {
	if !*figures {
		t.Skip("takes minutes; -figures measures")
	}
	glide := `moves   = "glide"`
	delay := func(lines string) map[string][2]string {
		return map[string][2]string{"show.toml": {"[always]", lines + "\n[always]"}}
	}
	for _, c := range []struct {
		name   string
		change map[string][2]string
		zones  string // "" for both, "yes" or "no"
	}{
		{"glide", nil, ""},
		{"closed", map[string][2]string{"mixer.toml": {glide, `moves   = "closed"`}}, ""},
		{"cues", map[string][2]string{"mixer.toml": {glide, `moves   = "cues"`}}, ""},
		{"dip 0.5", map[string][2]string{"mixer.toml": {glide, `moves   = "closed"`},
			"show.toml": {"[always]", "[delay]\ndip = 0.5\n[always]"}}, ""},
		{"slew 3", delay("[delay]\nslew = 3"), ""},
		{"slew 20", delay("[delay]\nslew = 20"), ""},
		{"box free", delay("[delay]\nbox = \"free\""), ""},
		{"never-early", delay("[delay]\npolicy = \"never-early\""), ""},
		{"least-error", delay("[delay]\npolicy = \"least-error\""), ""},
		{"joint", delay("[delay]\npolicy = \"joint\""), "no"},
		{"make-up from 40 m", delay("[make_up]\nfrom = \"40 m\"\nmax = 4"), ""},
		{"one zone", delay("[zones]\nmost = 1"), "yes"},
		{"pause of 6 s", map[string][2]string{"show.toml": {"pause = 1.5", "pause = 6"}}, ""},
		{"opened early", map[string][2]string{"show.toml": {"solo    = 2 ", "solo    = { level = 2, open_early = 1 } "}}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.zones != "yes" {
				s := loadDemo(t, false, c.change)
				t.Logf("%s, stereo: %v%s", c.name, measureDemo(s), earlyGaps(s))
			}
			if c.zones != "no" {
				s := loadDemo(t, true, c.change)
				t.Logf("%s, zones: %v%s", c.name, measureDemo(s), earlyGaps(s))
			}
		})
	}
}

// earlyGaps says how the press box hears the mics that open before their count: they open with the delay that they need at
// it, while the player is still on the way.
func earlyGaps(s *show.Loaded) string {
	n, least, most := 0, math.Inf(1), math.Inf(-1)
	for i, open := range s.Derivations {
		for _, w := range open {
			if i == 0 || s.Show.Cues[i-1].Channels[w.Line].Early == nil {
				continue
			}
			at := w.From
			at.Elapsed -= 1
			where, _ := s.Lines.Where(&s.Lines.List[w.Line], at)
			need, _, _ := s.Setup.Listeners.BoxNeedMS(w.Pan.Gains, where)
			n, least, most = n+1, min(least, w.Delay.MS-need), max(most, w.Delay.MS-need)
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("; %d open early, %.1f to %.1f ms late at the press box a count before", n, least, most)
}
