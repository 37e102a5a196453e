// Package drill knows the sets and the dots: where each player is at any count, and what is likely wrong
// in it (steps that nobody can march, dots that are missing, off the field or on top of one another). It
// knows no cue and no mic.
package drill

import (
	"math"
	"slices"
	"sort"
	"strconv"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/levelkeys"
	"backfield/layout/source"
)

// Set is one drill form: the counts it takes to move into it, Hold of which are a hold at the end. Facing is where bells
// point in all of these.
type Set struct {
	Label    string
	Movement int
	Counts   int
	Hold     int
	Span     source.Span // of the label
	CountsAt source.Span
	Moved    bool // it is not counted to the movement that is written, which is out of order
	Facing   levelkeys.Pointing
	Unsure   bool // its row has a mistake: its counts are not to be held against the dots

	// Where the set is in its movement, in counts elapsed since the downbeat: the walk begins at Begin, the
	// form is reached at Arrive and held until End.
	Begin, Arrive, End int
}

// Drill is the sets in order, and each player's dots.
type Drill struct {
	Field   field.Field
	Sets    []Set
	Players []Marcher // in order of first mention

	// What could not be read, so that what is missing for it is not held against other files.
	PartialSets bool // the sheet of sets, or its end
	PartialDots bool // the sheet of dots, or its end
	UnsureTime  bool // how long the sets take, or which movement they are of

	setsFile  *source.File
	unlisted  map[string]bool // labels of sets that have dots and are not in the list of sets
	twice     int             // rows of the list of sets that repeat a label
	spare     spareDots
	renamed   []int // sets without dots, whose label most likely is the wrong one: reported
	written   *dotText
	alone     numbersAlone
	stands    bool // everybody stands still, so that one set is all there is to check
	strangers []strangeWord
	byLabel   map[string]int
	byPlayer  map[string]int
}

// strangeWord is a word in dots that is not known: what to say about it, and how many dots have it.
type strangeWord struct {
	word    string
	problem source.Problem
	dots    int
}

// Marcher is one performer's dots, one a set.
type Marcher struct {
	Name string
	Span source.Span // where first named
	Dots []Dot
}

// Dot is a place in plan (z = 0). Known is false where the sheet has none.
type Dot struct {
	At layout.Point

	from          *dotText // nil where the dot is not known
	start, end    uint32   // the bytes of its cell, or of the first of them
	across, along half

	Known    bool
	Bad      bool // the sheet has one that could not be read: At is not to be looked at
	Plain    bool // it is x and y
	Reported bool // it is missing, which an error says

	oneCell bool // both halves are in one cell
	blamed  bool // for a step that is too long: how close it is to others is not another mistake
}

// in is the dot with its place in the sheet.
func (dot Dot) in(from *dotText, at source.Span) Dot {
	dot.from, dot.start, dot.end = from, uint32(at.Start), uint32(at.End)
	return dot
}

// Sheets lays the drill out in Backfield's own layout: the rows of sets.csv and of dots.csv with their headers. Read
// again, they are the same drill.
func (d *Drill) Sheets() (sets, dots [][]string) {
	sets = [][]string{{"set", "movement", "counts", "hold"}}
	faces := slices.ContainsFunc(d.Sets, func(s Set) bool { return s.Facing.Set })
	if faces {
		sets[0] = append(sets[0], "facing")
	}
	words, plain := false, false
	for _, s := range d.Sets {
		row := []string{s.Label, strconv.Itoa(s.Movement), strconv.Itoa(s.Counts), strconv.Itoa(s.Hold)}
		if faces {
			row = append(row, s.Facing.Words())
		}
		sets = append(sets, row)
	}
	for _, x := range d.Players {
		for _, dot := range x.Dots {
			plain = plain || dot.Known && dot.Plain
			words = words || dot.Known && !dot.Plain
		}
	}
	head := []string{"set", "player"}
	if words || !plain {
		head = append(head, "lateral", "depth")
	}
	if plain {
		head = append(head, "x", "y")
	}
	dots = [][]string{head}
	for i, s := range d.Sets {
		for _, x := range d.Players {
			dot := x.Dots[i]
			if !dot.Known {
				continue
			}
			row := []string{s.Label, x.Name}
			across, along := dot.halves()
			if words {
				if dot.Plain {
					row = append(row, "", "")
				} else {
					row = append(row, across, along)
				}
			}
			if dot.Plain {
				row = append(row, across, along)
			} else if plain {
				row = append(row, "", "")
			}
			dots = append(dots, row)
		}
	}
	return sets, dots
}

// Set returns the index of a set by its label.
func (d *Drill) Set(label string) (int, bool) { i, ok := d.byLabel[label]; return i, ok }

// MayHold reports whether a set that is not in the list may be in the part of the sheet that could not be read, or is
// reported already, since dots are in it.
func (d *Drill) MayHold(label string) bool {
	return d.unlisted[label] || d.PartialSets && d.setsFile.MayHold(label)
}

// Labels lists the sets' labels in order.
func (d *Drill) Labels() []string {
	labels := make([]string, len(d.Sets))
	for i, s := range d.Sets {
		labels[i] = s.Label
	}
	return labels
}

// Player returns a player's dots.
func (d *Drill) Player(name string) (*Marcher, bool) {
	i, ok := d.byPlayer[name]
	if !ok {
		return nil, false
	}
	return &d.Players[i], true
}

// Movements is the number of the last movement that has a set.
func (d *Drill) Movements() int {
	if len(d.Sets) == 0 {
		return 0
	}
	return d.Sets[len(d.Sets)-1].Movement
}

// Counts is the length of a movement in counts, as its sets add up to.
func (d *Drill) Counts(movement int) int {
	lo, hi := d.sets(movement)
	if lo == hi {
		return 0
	}
	return d.Sets[hi-1].End
}

// sets returns the range of a movement's sets.
func (d *Drill) sets(movement int) (lo, hi int) {
	lo = sort.Search(len(d.Sets), func(i int) bool { return d.Sets[i].Movement >= movement })
	hi = sort.Search(len(d.Sets), func(i int) bool { return d.Sets[i].Movement > movement })
	return lo, hi
}

// Leg is a player's path at one moment: from one set's dot to another's, and how far along it the player is.
type Leg struct {
	From, To int     // indices of sets; equal while the player stands still
	Part     float64 // 0 at From, 1 at To
}

// Leg returns where a movement's moment, elapsed counts after the downbeat, is between which sets.
func (d *Drill) Leg(movement int, elapsed float64) Leg {
	lo, hi := d.sets(movement)
	if lo == hi { // a movement without sets: everyone stays where the one before left them
		last := max(lo-1, 0)
		return Leg{last, last, 1}
	}
	i := lo + sort.Search(hi-lo, func(i int) bool { return float64(d.Sets[lo+i].End) >= elapsed })
	if i == hi {
		return Leg{hi - 1, hi - 1, 1}
	}
	s := d.Sets[i]
	walk := float64(s.Arrive - s.Begin)
	if i == 0 || walk == 0 || elapsed >= float64(s.Arrive) {
		return Leg{i, i, 1}
	}
	return Leg{i - 1, i, (elapsed - float64(s.Begin)) / walk}
}

// At returns where a player is elapsed counts after a movement's downbeat: on a straight line between the dots, at even
// speed, then standing still. If a dot is missing, the player stays on the last known one. ok is false where no dot of
// the player is known.
func (p *Marcher) At(d *Drill, movement int, elapsed float64) (at layout.Point, ok bool) {
	return p.On(d.Leg(movement, elapsed))
}

// On is At, where the leg is known.
func (p *Marcher) On(leg Leg) (at layout.Point, ok bool) {
	from, ok1 := p.known(leg.From)
	to, ok2 := p.known(leg.To)
	if !ok1 || !ok2 {
		return layout.Point{}, false
	}
	return layout.Point{
		X: from.X + (to.X-from.X)*leg.Part,
		Y: from.Y + (to.Y-from.Y)*leg.Part,
	}, true
}

// known returns the dot of set i, or the nearest known before it, or after it.
func (p *Marcher) known(i int) (layout.Point, bool) {
	if j := p.knownSet(i); j >= 0 {
		return p.Dots[j].At, true
	}
	return layout.Point{}, false
}

// Known is in how many sets the player has a dot.
func (p *Marcher) Known() (n int) {
	for _, dot := range p.Dots {
		if dot.Known {
			n++
		}
	}
	return n
}

// planDistance is how far apart two dots are, in meters.
func planDistance(p, q layout.Point) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }
