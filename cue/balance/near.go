package balance

import (
	"math"

	"backfield/cue/clock"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/stands"
)

// The kinds of NearEar.
const (
	NearPlayer = "player" // at the ear of somebody of the roster: the dot, level.EarHeightM up
	NearPeople = "people" // a place of the rig's `people`
	NearSeat   = "seat"   // whichever seat is the loudest
)

// NearEar is somebody's ear near loud sound, over a cue or over the show.
type NearEar struct {
	Kind string // NearPlayer, NearPeople or NearSeat
	Name string // of the player or the place; "" for the seat

	Stacks, All NearSound // of the loudspeakers alone, and of all sound, the own instrument included
}

// NearSound is how loud it is at an ear.
type NearSound struct {
	DBA float64      // at the loudest moment, the first of equal ones; -Inf: silent throughout
	At  clock.Moment // that moment
	Ear layout.Point // and where the ear is then

	// DosePct is the part of a day's dose by level.DosePct: of a cue what it gives when it is played once, of the show
	// what a day of rehearsal gives.
	DosePct float64
	DosedAt layout.Point // the seat that gets most, which need not be Ear; of all others zero
}

// CueNear is how loud a cue is near people, over every quarter count of the walk.
type CueNear struct {
	Cue   int
	HoldS float64 // how long it holds, without waits between movements
	// Ears are the players of the drill in the roster's order, also those who rest; then the places of `people`; then
	// the seats.
	Ears []NearEar
}

// ShowNear is how loud a show is near people.
type ShowNear struct {
	Cues []*CueNear
	Ears []NearEar // as those of a cue
	RunS float64   // how long the cues hold together
	DayS float64   // how long a day's rehearsal is: a dose is that of one run times DayS/RunS
}

// Loudest is the ear with the greatest of some figure, the first of equal ones; nil where it is -Inf for all.
func Loudest(list []NearEar, of func(*NearEar) float64) (loudest *NearEar) {
	most := math.Inf(-1)
	for i := range list {
		if v := of(&list[i]); v > most {
			loudest, most = &list[i], v
		}
	}
	return loudest
}

// Near computes how loud one cue, as Cue computed it, is near people: at every ear and at every seat, every quarter count
// of the walk. The loudest seat is looked for with the stacks as they are at each moment, and with own sound on a straight
// line between the ends of the cue, since that changes slowly at a seat. The level there is then computed in full.
func (l *Loudness) Near(c *CueLoudness) *CueNear { return l.near(c, l.dosedSeats(c)) }

// NearShow computes how loud all cues, as Cues computed them, are near people. All cores are used. Among the seats the
// doses are looked for at two: those that get the most energy over the run, by what is heard at the ends of the cues, from
// the stacks and from all sound.
func (l *Loudness) NearShow(cues []*CueLoudness) *ShowNear {
	n := &ShowNear{Cues: make([]*CueNear, len(cues)), DayS: l.x.Score.Goals.RehearseS}
	dosed := l.dosedSeats(cues...)
	work.Spread(len(cues), func() func(i int) { return func(i int) { n.Cues[i] = l.near(cues[i], dosed) } })
	in := map[string]int{}
	for _, c := range n.Cues {
		n.RunS += c.HoldS
		for _, x := range c.Ears {
			k, known := in[x.Kind+x.Name]
			if !known {
				in[x.Kind+x.Name] = len(n.Ears)
				n.Ears = append(n.Ears, x)
				continue
			}
			n.Ears[k].Stacks.join(x.Stacks)
			n.Ears[k].All.join(x.All)
		}
	}
	for k := range n.Ears {
		x := &n.Ears[k]
		x.Stacks.DosePct *= n.DayS / n.RunS
		x.All.DosePct *= n.DayS / n.RunS
	}
	return n
}

// join adds another cue of the same ear.
func (s *NearSound) join(o NearSound) {
	o.DosePct += s.DosePct
	if o.DBA <= s.DBA {
		o.DBA, o.At, o.Ear = s.DBA, s.At, s.Ear
	}
	*s = o
}

// peak takes in a moment.
func (s *NearSound) peak(dba float64, at clock.Moment, ear layout.Point) {
	if dba > s.DBA {
		s.DBA, s.At, s.Ear = dba, at, ear
	}
}

// near is Near, with the doses of the seats at two of them.
func (l *Loudness) near(c *CueLoudness, dosed [2]int) *CueNear {
	w := l.walk(c.Cue, dosed)
	return l.heard.near(w, func() *CueNear { return l.hearWalk(w, l.newSeatSearch(c)) })
}

// hearWalk computes how loud a cue is near people.
func (l *Loudness) hearWalk(w *earWalk, seats *seatSearch) *CueNear {
	n := &CueNear{Cue: w.cue}
	add := func(kind, name string) {
		silent := NearSound{DBA: math.Inf(-1)}
		n.Ears = append(n.Ears, NearEar{Kind: kind, Name: name, Stacks: silent, All: silent})
	}
	for j, name := range w.names {
		if j < w.players {
			add(NearPlayer, name)
		} else {
			add(NearPeople, name)
		}
	}
	add(NearSeat, "")
	seat := &n.Ears[len(n.Ears)-1]
	seat.Stacks.DosedAt, seat.All.DosedAt = l.Stadium.Seats[w.dosed[0]].At, l.Stadium.Seats[w.dosed[1]].At
	for i := range w.moments {
		w.moments[i].sounding = l.Stadium.Sounding(w.moments[i].playing)
	}
	own := w.own()
	for i := range w.moments {
		m := &w.moments[i]
		n.HoldS += m.holdS
		for j, ear := range m.ears {
			if !m.here[j] {
				continue
			}
			x, hours := &n.Ears[j], m.holdS/3600
			stacks := m.sounding.StacksA(ear)
			stacksDBA, allDBA := level.Decibels(stacks), level.Decibels(stacks+own[i][j])
			x.Stacks.peak(stacksDBA, m.at, ear)
			x.All.peak(allDBA, m.at, ear)
			x.Stacks.DosePct += level.DosePct(stacksDBA, hours)
			x.All.DosePct += level.DosePct(allDBA, hours)
		}
		stacksAt, allAt := seats.loudest(m.sounding, m.atS)
		inSeats := m.sounding.Near([]layout.Point{stacksAt, allAt, seat.Stacks.DosedAt, seat.All.DosedAt})
		seat.Stacks.peak(inSeats[0].StacksDBA, m.at, stacksAt)
		seat.All.peak(inSeats[1].AllDBA, m.at, allAt)
		seat.Stacks.DosePct += level.DosePct(inSeats[2].StacksDBA, m.holdS/3600)
		seat.All.DosePct += level.DosePct(inSeats[3].AllDBA, m.holdS/3600)
	}
	return n
}

// holdS is how long a sample of a cue holds, until the next. The last holds no time, nor do those before a wait between
// movements.
func (l *Loudness) holdS(i, sample int) float64 {
	s := l.x.Spans[i].Samples
	if sample+1 == len(s) || s[sample].Movement != s[sample+1].Movement {
		return 0
	}
	return l.x.Clock.Seconds(s[sample+1]) - l.x.Clock.Seconds(s[sample])
}

// seatSearch looks for the loudest seats of a cue.
type seatSearch struct {
	seats         []stands.Seat
	fromS, untilS float64
	from, until   []float64 // energy of own sound at each seat, at the ends of the cue
}

func (l *Loudness) newSeatSearch(c *CueLoudness) *seatSearch {
	ends := l.ends(c.Cue)
	return &seatSearch{l.Stadium.Seats, l.x.Clock.Seconds(ends[0]), l.x.Clock.Seconds(ends[1]),
		energyAtSeats(c.Heard[0], (*level.PlaceSound).Own), energyAtSeats(c.Heard[1], (*level.PlaceSound).Own)}
}

// loudest is where the stacks alone are the loudest, and where all sound is, at a time of the show.
func (q *seatSearch) loudest(sounding *level.Sounding, atS float64) (stacksAt, allAt layout.Point) {
	energy := sounding.StacksAtSeats()
	stacksAt = q.seats[greatest(energy)].At
	part := 0.0
	if q.untilS > q.fromS {
		part = (atS - q.fromS) / (q.untilS - q.fromS)
	}
	for j := range energy {
		energy[j] += q.from[j] + part*(q.until[j]-q.from[j])
	}
	return stacksAt, q.seats[greatest(energy)].At
}

// dosedSeats are the seats that get the most energy over some cues, of the stacks and of all sound: by the mean of what is
// heard at both ends of each, for as long as it holds.
func (l *Loudness) dosedSeats(cues ...*CueLoudness) [2]int {
	stacks, all := make([]float64, len(l.Stadium.Seats)), make([]float64, len(l.Stadium.Seats))
	for _, c := range cues {
		ends := l.ends(c.Cue)
		holdS := l.x.Clock.Seconds(ends[1]) - l.x.Clock.Seconds(ends[0])
		for _, b := range c.Heard {
			ofStacks, own := energyAtSeats(b, (*level.PlaceSound).Stacks), energyAtSeats(b, (*level.PlaceSound).Own)
			for j := range all {
				stacks[j] += holdS * ofStacks[j]
				all[j] += holdS * (ofStacks[j] + own[j])
			}
		}
	}
	return [2]int{greatest(stacks), greatest(all)}
}

// energyAtSeats is the A-weighted energy of something at every seat.
func energyAtSeats(b *level.Balance, of func(*level.PlaceSound) level.Energies) []float64 {
	list := make([]float64, len(b.Seats))
	for j := range b.Seats {
		e := of(&b.Seats[j])
		list[j] = e.A()
	}
	return list
}

// greatest is where the greatest value is, the first of equal ones.
func greatest(values []float64) (at int) {
	for j, v := range values {
		if v > values[at] {
			at = j
		}
	}
	return at
}
