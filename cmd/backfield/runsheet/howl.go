package runsheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/level"
)

// Howl is the box "if it howls": what to do, in order, and where to look first in this show.
type Howl struct {
	Fixed    string // the channels of the fixed mics, which hush leaves open; "" without any
	FixedN   int
	First    []Ringer
	Measured bool
	Unknown  bool // levels could not be computed
}

// Ringer is a mic that rings first, where it is nearest to it.
type Ringer struct {
	Who     string
	Channel int
	Cue     string
	Where   string // when, near which frequency, and how far from a stack
}

const (
	mostRingers = 2 // of the fixed mics, and of the worn ones
	howlPt      = 12.5
	howlHigh    = 16.5
	howlWide    = 410.0
)

// howl ranks the mics of the show by their loops.
func (s *Source) howl() *Howl {
	h := &Howl{Unknown: s.Sound == nil}
	var fixed []int
	for _, m := range s.Show.Rig.Mics {
		fixed = append(fixed, m.Channel)
	}
	slices.Sort(fixed)
	h.Fixed, h.FixedN = ranges(fixed), len(fixed)
	if s.Sound == nil {
		return h
	}
	h.Measured = s.Sound.Measured.Calibrated()
	list := s.nearest()
	slices.SortStableFunc(list, func(a, b nearest) int { return cmp.Compare(b.db, a.db) })
	of := map[bool]int{}
	for _, x := range list {
		if of[x.fixed]++; of[x.fixed] > mostRingers {
			continue
		}
		r := Ringer{Who: x.name, Cue: x.cue, Channel: x.channel}
		now := s.Show.Clock.At(x.atS)
		words := []string{countWords(now),
			"near " + hertz(float64(level.NominalHz[x.band]))}
		if at, ok := s.Show.Where(x.name, now); ok {
			if name, m := s.nearestStack(at); name != "" {
				words = append(words, fmt.Sprintf("%.0f m from %s", m, name))
			}
		}
		if h.Measured {
			words = append(words, fmt.Sprintf("rings %s (give or take %.0f)", upOrNow(-x.db), math.Ceil(x.takeDB)))
		}
		r.Where = strings.Join(words, ", ")
		h.First = append(h.First, r)
	}
	return h
}

// countWords says when that is. A count such as 1:48.75 would read as a time here.
func countWords(at clock.Moment) string {
	count := math.Round(100*at.Count()) / 100
	return fmt.Sprintf("movement %d, count %s", at.Movement, strconv.FormatFloat(count, 'f', -1, 64))
}

// upOrNow says how far a fader may go up before its mic rings alone.
func upOrNow(db float64) string {
	if db <= 0 {
		return "as written"
	}
	return fmt.Sprintf("%.0f dB up", db)
}

// nearest is where a mic is nearest to feedback: its own loop in its greatest band, with its fader where the cue has it.
type nearest struct {
	name    string
	fixed   bool
	channel int
	db      float64
	band    int
	takeDB  float64
	cue     string
	atS     float64
}

// nearest finds that for each mic of the show.
func (s *Source) nearest() (list []nearest) {
	cues := s.Show.Show.Cues
	for _, t := range s.Sound.LoopTracks() {
		best := nearest{name: t.Name, db: math.Inf(-1), takeDB: t.TakeDB}
		for k, atS := range t.AtS {
			i, found := slices.BinarySearchFunc(cues, atS+1e-6, func(c cue.Snapshot, s float64) int {
				return cmp.Compare(c.TimeS, s)
			})
			if !found {
				i--
			}
			if i < 0 {
				continue
			}
			n := slices.IndexFunc(cues[i].Channels, func(c cue.Channel) bool { return c.Player == t.Name && c.Open })
			if n < 0 {
				continue
			}
			c := &cues[i].Channels[n]
			loop := level.MicLoop{Loop: t.Loops[k]}
			db, band := loop.GreatestDB()
			if db += float64(c.LevelDB); db > best.db {
				best.db, best.band, best.cue, best.atS = db, band, cues[i].ID, atS
				best.fixed, best.channel = c.Kind == cue.Fixed, c.Channel
			}
		}
		if best.cue != "" {
			list = append(list, best)
		}
	}
	return list
}

// nearestStack is the stack nearest to a place, subs left out.
func (s *Source) nearestStack(at layout.Point) (name string, m float64) {
	m = math.Inf(1)
	for _, k := range s.Show.Rig.MainStacks() {
		if d := math.Hypot(k.At.X-at.X, k.At.Y-at.Y); d < m {
			name, m = k.Name, d
		}
	}
	return name, m
}

// hertz writes a frequency: "500 Hz", "2 kHz".
func hertz(hz float64) string {
	if hz >= 1000 {
		return dB(hz/1000) + " kHz"
	}
	return dB(hz) + " Hz"
}

// ranges writes channels in order: "41–43, 45–50".
func ranges(list []int) string {
	var parts []string
	for i := 0; i < len(list); i++ {
		from := list[i]
		for i+1 < len(list) && list[i+1] == list[i]+1 {
			i++
		}
		if from == list[i] {
			parts = append(parts, strconv.Itoa(from))
		} else {
			parts = append(parts, fmt.Sprintf("%d–%d", from, list[i]))
		}
	}
	return strings.Join(parts, ", ")
}

// high is how much of the page the box needs, in points.
func (h *Howl) high() float64 {
	hush := "h h on the laptop closes every worn mic. h h again opens them."
	if h.FixedN > 0 {
		hush += fmt.Sprintf(" %d fixed mics stay open: close channels %s at the mixer.", h.FixedN, h.Fixed)
	}
	n := 3 + lines(hush, howlPt, howlWide-18, true)
	for _, r := range h.First {
		text := fmt.Sprintf("%s (ch %d) in cue %s at %s", r.Who, r.Channel, r.Cue, r.Where)
		n += lines(text, howlPt, howlWide-30, false)
	}
	const around = 66 // the line of cautions, the edges and the spaces between the steps
	return howlHigh*float64(n) + float64(len(h.First)) + around
}
