package loudness_test

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/source"
)

// edited reads the demo from the disk, with some of its files replaced, and a tenth of its seats.
type edited map[string]string

func (e edited) Read(path string) ([]byte, error) {
	name := filepath.Base(path)
	text, ok := e[name]
	if !ok {
		data, err := show.Disk{}.Read(path)
		if err != nil {
			return nil, err
		}
		text = string(data)
	}
	if name == "rig.toml" {
		text = strings.NewReplacer("rows  = 30", "rows  = 10", "seats = 80", "seats = 27").Replace(text)
	}
	return []byte(text), nil
}

const harbor = "../../../examples/harbor/show.toml"

// demo is a file of the demo, with pairs of old and new text replaced, each wherever it is.
func demo(t *testing.T, name string, pairs ...string) string {
	t.Helper()
	data, err := show.Disk{}.Read(filepath.Join(filepath.Dir(harbor), name))
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(string(data), pairs[i]) {
			t.Fatalf("%s has no %q", name, pairs[i])
		}
	}
	return strings.NewReplacer(pairs...).Replace(string(data))
}

// heard compiles the demo, and computes its cues.
func heard(e edited) (*show.Loaded, []*balance.CueLoudness) {
	var p source.Problems
	s, err := show.Load(e, harbor, show.LoadOptions{}, &p)
	if err != nil {
		panic(err)
	}
	l := s.Loudness(&p)
	if l == nil {
		panic(fmt.Sprint(p.All()))
	}
	return s, l.Cues()
}

// asItIs is the demo without an edit, computed once for all tests.
var asItIs = sync.OnceValues(func() (*show.Loaded, []*balance.CueLoudness) { return heard(nil) })

func same(a, b level.Figure, within float64) bool {
	return a.OK == b.OK && (!a.OK || math.Abs(a.DB-b.DB) <= within)
}

// Making all louder by x, players and loudspeakers, moves no lead, no over and no loop: both readings are x dB higher.
func TestLouderMovesNoLead(t *testing.T) {
	t.Parallel()
	night := func(noise, brass string) []*balance.CueLoudness {
		_, cues := heard(edited{"rig.toml": demo(t, "rig.toml") + "\n[levels]\nnoise = { stack = \"outer left\", dba = " + noise +
			" }\nbrass = { section = \"trumpet\", set = \"7\", dba = " + brass + " }\n"})
		return cues
	}
	before, after := night("66.5", "71"), night("69.5", "74")
	leads := 0
	for i, a := range before {
		b := after[i]
		for what, of := range map[string]func(level.Ends) (level.Figure, int){
			"lead": level.Ends.LeadAtBox, "over": level.Ends.OverAtBox,
			"lead at 90 %": func(e level.Ends) (level.Figure, int) { return e.LeadAt(90) },
		} {
			x, _ := of(a.Heard)
			y, _ := of(b.Heard)
			if !same(x, y, 1e-6) {
				t.Errorf("cue %d: %s is %+v, 3 dB louder %+v", i, what, x, y)
			}
			if x.OK {
				leads++
			}
		}
		for k := range a.Loops {
			x, _ := a.Loops[k].Gains.GreatestDB()
			if y, _ := b.Loops[k].Gains.GreatestDB(); math.Abs(x-y) > 1e-6 {
				t.Errorf("cue %d: the loop is %.4f dB, 3 dB louder %.4f", i, x, y)
				break
			}
		}
		own, louder := a.Heard[0].Box.Own(), b.Heard[0].Box.Own()
		if own.A() > 0 && math.Abs(louder.ADB()-own.ADB()-3) > 1e-6 {
			t.Errorf("cue %d: own sound is %.4f dB louder, want 3", i, louder.ADB()-own.ADB())
		}
	}
	if leads < 100 {
		t.Errorf("only %d figures were compared", leads)
	}
}

// A quieter master with the soloist's fader further up raises the lead, in every cue whose bed comes through the stacks.
func TestQuieterMaster(t *testing.T) {
	t.Parallel()
	_, before := asItIs()
	_, after := heard(edited{"show.toml": demo(t, "show.toml", "solo    = 2 ", "solo    = 4 "),
		"rig.toml": demo(t, "rig.toml", "trim  = 0", "trim  = -2", "trim  = -3", "trim  = -5")})
	solos := 0
	for i, a := range before {
		bed := a.Heard[0].Box.BedStacks
		if a.Role != "solo" || bed.A() == 0 {
			continue
		}
		solos++
		x, _ := a.Heard.LeadAtBox()
		y, _ := after[i].Heard.LeadAtBox()
		if !(y.DB > x.DB) {
			t.Errorf("cue %d: the lead goes from %.3f to %.3f dB", i, x.DB, y.DB)
		}
		own, stays := a.Heard[0].Box.FeaturedStacks, after[i].Heard[0].Box.FeaturedStacks
		if math.Abs(own.ADB()-stays.ADB()) > 0.02 { // the mixer's step
			t.Errorf("cue %d: the soloist's loudspeakers go from %.3f to %.3f dBA", i, own.ADB(), stays.ADB())
		}
	}
	if solos < 5 {
		t.Errorf("only %d solos", solos)
	}
}

// Turning all bells away lowers the own sound of the featured players and raises over, in every cue.
func TestBellsTurnedAway(t *testing.T) {
	t.Parallel()
	var sets []string
	for i, line := range strings.Split(strings.TrimSpace(demo(t, "sets.csv")), "\n") {
		if i == 0 {
			line += ",facing"
		} else {
			line += ",back"
		}
		sets = append(sets, line)
	}
	_, before := asItIs()
	_, after := heard(edited{"sets.csv": strings.Join(sets, "\n") + "\n"})
	featured := 0
	for i, a := range before {
		x, end := a.Heard.OverAtBox()
		if !x.OK {
			continue
		}
		featured++
		own, away := a.Heard[end].Box.FeaturedOwn, after[i].Heard[end].Box.FeaturedOwn
		if y, _ := after[i].Heard.OverAtBox(); !(y.DB > x.DB) || !(away.ADB() < own.ADB()) {
			t.Errorf("cue %d: own goes from %.2f to %.2f dBA, over from %.2f to %.2f dB", i, own.ADB(), away.ADB(), x.DB, y.DB)
		}
	}
	if featured < 30 {
		t.Errorf("only %d cues feature somebody", featured)
	}
}

// A mic that comes nearer to a stack never gains margin: each open mic of each cue, on the straight line to each stack,
// with the others off and the gain as it was set.
func TestNearerNeverGainsMargin(t *testing.T) {
	t.Parallel()
	s, cues := asItIs()
	var p source.Problems
	stadium := s.Loudness(&p).Stadium
	toward := func(at, stack layout.Point) layout.Point {
		return layout.Point{X: at.X + 0.1*(stack.X-at.X), Y: at.Y + 0.1*(stack.Y-at.Y), Z: at.Z + 0.1*(stack.Z-at.Z)}
	}
	moved := 0
	for i, c := range cues {
		scene := c.Ends[0].Playing
		for k := range stadium.Stacks {
			alone := func(m level.Strip) level.Strip {
				m.SendDB = slices.Repeat([]float64{math.Inf(-1)}, len(stadium.Stacks))
				m.SendDB[k] = 0
				return m
			}
			far := level.Playing{Performers: slices.Clone(scene.Performers), Worn: slices.Clone(scene.Worn),
				Fixed: slices.Clone(scene.Fixed)}
			near := level.Playing{Performers: slices.Clone(scene.Performers)}
			for j := range near.Performers {
				near.Performers[j].At = toward(near.Performers[j].At, stadium.Stacks[k].At)
			}
			for j := range far.Worn {
				far.Worn[j].Strip = alone(far.Worn[j].Strip)
			}
			for j := range far.Fixed {
				far.Fixed[j].Strip = alone(far.Fixed[j].Strip)
			}
			near.Worn, near.Fixed = far.Worn, slices.Clone(far.Fixed)
			for j := range near.Fixed {
				near.Fixed[j].At = toward(near.Fixed[j].At, stadium.Stacks[k].At)
			}
			before, after := stadium.Loops(&far), stadium.Loops(&near)
			for j, m := range before.Mics {
				moved++
				for b, e := range m.Loop {
					if !(after.Mics[j].Loop[b] >= e) {
						t.Fatalf("cue %d, %s nearer to stack %d: %.3f dB becomes %.3f in band %d", i, m.Name, k,
							level.Decibels(e), level.Decibels(after.Mics[j].Loop[b]), b)
					}
				}
			}
		}
	}
	if moved < 1000 {
		t.Errorf("only %d mics were moved", moved)
	}
}
