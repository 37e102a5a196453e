// Package work computes the numbers: for every mic that is open in a part of a cue its place, pan or sends, delay,
// level, the mixer's own parameters, and how many seats are in time. It returns the whole derivation, which explain
// prints and which the snapshots are made from.
package work

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"backfield/cue/timeline"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// CompileSetup is what all numbers of one compile have in common: the files, and what follows from them before any cue.
type CompileSetup struct {
	*timeline.Files
	System    *sound.System
	Listeners *stands.Listeners
	Seats     int // of the rig, with weight

	aim   stands.Aim
	steps int // of the mixer's pan, from the middle to one side
	memo  *Memo
}

// NewCompileSetup prepares the numbers of one compile. If the numbers will not be used, blind leaves the seats out and takes
// nothing from the memo. The memo may be nil.
func NewCompileSetup(f *timeline.Files, memo *Memo, blind bool) *CompileSetup {
	seats := f.Rig.Seats()
	s := &CompileSetup{
		Files: f, System: f.Rig.System(f.Mixer.Law), Seats: len(seats), memo: memo,
		aim:   stands.Aim{WindowS: f.Score.WindowMS / 1000, LeadS: f.Score.LeadMS / 1000, Free: f.Score.Free},
		steps: PanSteps(f.Mixer.Pan),
	}
	if s.memo == nil || blind {
		s.memo = &Memo{}
	}
	if blind {
		seats = nil
	}
	s.Listeners = s.memo.begin(basis{seats, acoustics{*s.System, f.Rig.Reference, s.aim, s.steps}})
	return s
}

// PanSteps is the number of steps of the mixer's pan from the middle to one side.
func PanSteps(pan timeline.Limits) int { return int(math.Round(1 / pan.Step)) }

// Feed is how the rig's stacks are fed: "zones" or "stereo".
func (s *CompileSetup) Feed() string {
	if s.Rig.Zones {
		return "zones"
	}
	return "stereo"
}

// PanBy is how the show pans: "stands" for all the seats, or "tangent" for the reference seat.
func (s *CompileSetup) PanBy() string {
	if s.Score.PanByStands {
		return "stands"
	}
	return "tangent"
}

// DefaultPolicy is the policy of a show that names none.
func (s *CompileSetup) DefaultPolicy() *stands.Policy {
	if s.Seats > 0 {
		return stands.MostSeats
	}
	return stands.Reference
}

// scratch is one worker's own memory.
type scratch struct {
	pan   *stands.PanChooser
	delay *stands.DelayChooser
}

// each runs do for 0 to n-1, spread over the cores. Every call works for its own index only, so that the
// result does not depend on how many cores there are.
func (s *CompileSetup) each(n int, do func(h *scratch, i int)) {
	Each(s.Listeners, n, func(pan *stands.PanChooser, delay *stands.DelayChooser) func(i int) {
		h := &scratch{pan, delay}
		return func(i int) { do(h, i) }
	})
}

// Each runs a function for 0 to n-1, spread over the cores: worker makes one for each worker, from what that worker
// computes with. Every call works for its own index only, so that the result does not depend on how many cores there
// are.
func Each(l *stands.Listeners, n int, worker func(pan *stands.PanChooser, delay *stands.DelayChooser) func(i int)) {
	var next atomic.Int64
	var workers sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			do := worker(l.PanChooser(), l.DelayChooser())
			for {
				mine := int(next.Add(1)) - 1
				if mine >= n {
					return
				}
				do(mine)
			}
		})
	}
	workers.Wait()
}
