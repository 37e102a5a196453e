// Package work computes the numbers: for every mic that is open in a part of a cue its place, pan or sends, delay,
// level, the mixer's own parameters, and how many seats are in time. It returns the whole derivation, which explain
// prints and which the snapshots are made from.
package work

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"backfield/cue/parts"
	"backfield/cue/timeline"
	"backfield/layout/path"
	"backfield/layout/sound"
	"backfield/layout/stands"
	"backfield/layout/unit"
)

// CompileSetup is what all numbers of one compile have in common: the files, and what follows from them before any cue.
type CompileSetup struct {
	*timeline.Files
	System    *sound.System
	Listeners *stands.Listeners
	Seats     int // of the rig, with weight
	Lanes     *parts.Lanes

	rules   PathRules
	row     sound.StackRow
	memo    *Memo
	lasting bool // the memo is the caller's, and outlives the compile
}

// NewCompileSetup prepares the numbers of one compile. If the numbers will not be used, blind leaves the seats out and takes
// nothing from the memo. The memo may be nil.
func NewCompileSetup(f *timeline.Files, lanes *parts.Lanes, memo *Memo, blind bool) *CompileSetup {
	seats := f.Rig.Seats()
	s := &CompileSetup{
		Files: f, System: f.Rig.System(f.Mixer.Law), Seats: len(seats), Lanes: lanes, memo: memo,
		rules: rulesOf(f),
	}
	s.row = s.System.Row(f.Rig.Reference)
	if s.lasting = memo != nil && !blind; !s.lasting {
		s.memo = &Memo{}
	}
	if blind {
		seats = nil
	}
	s.Listeners = s.memo.begin(basis{seats, acoustics{*s.System, f.Rig.Reference}, s.rules})
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

// rulesOf is what all paths of a show go by.
func rulesOf(f *timeline.Files) PathRules {
	c, d := f.Score, f.Mixer.Delay
	return PathRules{
		Window: stands.Window{MostMS: c.WindowMS, MarginMS: c.MarginMS}, LeadMS: c.LeadMS,
		SlewMSPS: c.SlewMSPS, DipS: c.DipS, KnotMS: c.KnotMS, PanKnot: c.PanKnot,
		Moves: f.Mixer.Moves, StepMS: d.Step, MinMS: d.Min, MaxMS: d.Max,
		Zones: f.Rig.Zones, ZonesMost: c.ZonesMost, PanWidth: c.PanWidth, PanByStands: c.PanByStands,
		JointDeg: c.JointDeg, MakeUpFromM: c.MakeUp.FromM, MakeUpMaxDB: c.MakeUp.MaxDB,
	}
}

// Window is how late a seat may hear the loudspeakers and still be in time.
func (s *CompileSetup) Window() stands.Window { return s.rules.Window }

// GridMS is the step in which delays are searched, in ms.
func (s *CompileSetup) GridMS() float64 { return s.rules.grid() }

// GainsAt are the amplitudes of a mic at the stacks at a wanted pan, or with zones a place along the row of stacks.
func (s *CompileSetup) GainsAt(want float64) []float64 {
	if s.rules.Zones {
		return s.System.Through(s.row.Sends(want))
	}
	return s.System.Gains(want)
}

// sent is a delay as the mixer does it.
func (s *CompileSetup) sent(ms float64) float64 {
	least, most := max(s.rules.MinMS, 0), max(s.rules.MaxMS, 0)
	return min(unit.Round(max(min(ms, most), least), s.rules.StepMS), most)
}

// scratch is one worker's own memory.
type scratch struct {
	pan      *stands.PanChooser
	needs    *stands.SeatNeeds
	search   path.PathSearch
	tally    stands.GapTally
	rows     []float64 // the values of the search, by sample
	searched []searched
	kept     []keptNeeds
}

// sized is a slice of n elements, the old one where it is long enough.
func sized[T any](list []T, n int) []T { return slices.Grow(list[:0], n)[:n] }

// each runs do for 0 to n-1, spread over the cores. Every call works for its own index only, so that the
// result does not depend on how many cores there are.
func (s *CompileSetup) each(n int, do func(h *scratch, i int)) {
	Spread(n, func() func(i int) {
		h := &scratch{pan: s.Listeners.PanChooser(), needs: s.Listeners.SeatNeeds()}
		return func(i int) { do(h, i) }
	})
}

// Spread runs a function for 0 to n-1 over the cores; worker makes one for each of them. Every call works for its own
// index only, so that the result does not depend on how many cores there are.
func Spread(n int, worker func() func(i int)) {
	var next atomic.Int64
	var workers sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			do := worker()
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
