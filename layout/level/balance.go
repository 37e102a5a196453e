package level

import (
	"cmp"
	"math"
	"slices"

	"backfield/layout"
)

// PlaceSound is what is heard at one place, as energies: of the featured players and of the bed, which is all others,
// their own sound and what the stacks add.
type PlaceSound struct {
	FeaturedOwn, FeaturedStacks, BedOwn, BedStacks Energies

	background float64 // A-weighted energy; it has no bands
}

// Own is the own sound of all who play.
func (p *PlaceSound) Own() Energies {
	e := p.FeaturedOwn
	e.add(&p.BedOwn, 1)
	return e
}

// Stacks is what all stacks add.
func (p *PlaceSound) Stacks() Energies {
	e := p.FeaturedStacks
	e.add(&p.BedStacks, 1)
	return e
}

// Featured is all that is heard of the featured players.
func (p *PlaceSound) Featured() Energies {
	e := p.FeaturedOwn
	e.add(&p.FeaturedStacks, 1)
	return e
}

// Bed is all that is heard of the others.
func (p *PlaceSound) Bed() Energies {
	e := p.BedOwn
	e.add(&p.BedStacks, 1)
	return e
}

// Lead is how much louder the featured players are than the bed and the background, A-weighted.
func (p *PlaceSound) Lead() Figure {
	return ratio(p.FeaturedOwn.A()+p.FeaturedStacks.A(), p.BedOwn.A()+p.BedStacks.A()+p.background)
}

// Best is the lead of the band, 250 to 4000 Hz, in which the featured players stand out most; the lower of equal ones.
// Below 0 dB a feature is partly masked everywhere, below -6 dB it is not heard: a tone in noise of its critical band
// goes under at about -6.0 - 0.275 g dB (g in Bark; read in course notes). Octaves are wider, so this is cautious.
func (p *PlaceSound) Best() (best Figure, band int) {
	f, bed := p.Featured(), p.Bed()
	for b := bestFrom; b <= bestTo; b++ {
		if v := ratio(f[b], bed[b]); v.OK && (!best.OK || v.DB > best.DB) {
			best, band = v, b
		}
	}
	return best, band
}

// The bands in which Best looks, 250 and 4000 Hz.
const bestFrom, bestTo = 1, 5

// Over is how much louder the stacks carry the featured players than these sound by themselves, A-weighted. Up to 10 dB
// the player leads (H. Haas 1951, abstract read: a repetition 1 to 30 ms late is not heard as such); from 15 dB the
// first sound no longer leads (Langmuir, quoted by Wallach, Newman and Rosenzweig 1949, read in a source that quotes
// them). It means something only where the stacks are later.
func (p *PlaceSound) Over() Figure { return ratio(p.FeaturedStacks.A(), p.FeaturedOwn.A()) }

// BedPart is a part of the bed at the press box: the own sound of a section, what the stacks carry of a section's worn
// mics, or of a kind of fixed mic.
type BedPart struct {
	Name    string // of the section or the kind
	Fixed   bool   // a kind of fixed mic
	Stacks  bool   // through the stacks; otherwise own sound
	Players int    // whose own sound it is
	Mics    int    // that it comes through
	DBA     float64
}

// Balance is what is heard everywhere at one moment.
type Balance struct {
	Box   PlaceSound
	Seats []PlaceSound // in the stadium's order
	Parts []BedPart    // of the bed at the box, the loudest first

	FeaturedMics int // worn mics of featured players

	weights []float64
	total   float64
}

// stackFeed is what reaches the stacks: an energy by band for each stack, at 1 m on the axis, trim 0.
type stackFeed []Energies

// add adds a mic with a level by band at a gain in dB.
func (f stackFeed) add(mic *Energies, gainDB float64, s *Strip) {
	cut, gain := s.lowCut(), Energy(gainDB+s.FaderDB)
	for b := range cut {
		cut[b] *= mic[b] * gain
	}
	for k := range f {
		if send := s.send(k); send > 0 {
			f[k].add(&cut, send)
		}
	}
}

// at is what is heard of a feed at a place, where transfer is the place's.
func (f stackFeed) at(transfer []Energies) (e Energies) {
	for k := range f {
		e.addProduct(&f[k], &transfer[k])
	}
	return e
}

// wornFeed is what one worn mic sends to the stacks.
func (s *Stadium) wornFeed(p *Playing, m *WornMic) stackFeed {
	f, who := make(stackFeed, len(s.Stacks)), &p.Performers[m.Wearer]
	if who.Rests {
		return f
	}
	mic := s.WornMicDB(who, m).Energies()
	f.add(&mic, s.WornGainDB(who, m), &m.Strip)
	return f
}

// fixedFeed is what one fixed mic sends to the stacks.
func (s *Stadium) fixedFeed(all []choir, m *FixedMic) stackFeed {
	f := make(stackFeed, len(s.Stacks))
	if math.IsInf(m.HighestDB, -1) {
		return f
	}
	mic := s.fixedMic(all, m)
	f.add(&mic, s.FixedGainDB(m), &m.Strip)
	return f
}

// feeds is what each mic sends to the stacks: the worn ones, then the fixed ones.
func (s *Stadium) feeds(p *Playing, all []choir) []stackFeed {
	list := make([]stackFeed, 0, len(p.Worn)+len(p.Fixed))
	for i := range p.Worn {
		list = append(list, s.wornFeed(p, &p.Worn[i]))
	}
	for i := range p.Fixed {
		list = append(list, s.fixedFeed(all, &p.Fixed[i]))
	}
	return list
}

// sides sums what the mics of the featured players send, and what all others do.
func (s *Stadium) sides(p *Playing, feeds []stackFeed) (featured, bed stackFeed) {
	featured, bed = make(stackFeed, len(s.Stacks)), make(stackFeed, len(s.Stacks))
	for i, f := range feeds {
		to := bed
		if p.featuredMic(i) {
			to = featured
		}
		for k := range f {
			to[k].add(&f[k], 1)
		}
	}
	return featured, bed
}

// sum is what all mics send together.
func (s *Stadium) sum(feeds []stackFeed) stackFeed {
	sent := make(stackFeed, len(s.Stacks))
	for _, f := range feeds {
		for k := range f {
			sent[k].add(&f[k], 1)
		}
	}
	return sent
}

// OwnSound is the own sound of some performers at the box and at each seat. It does not depend on any mic or fader, so who
// hears the same show again and again may keep it. It is in single precision, 1 part in 10^7, for that takes half the room.
type OwnSound struct{ featured, bed []singles } // nil where nobody plays

// singles are Energies in single precision.
type singles [bandCount]float32

// addTo adds the sound at a place.
func addTo(sum *Energies, list []singles, place int) {
	if list != nil {
		for b, v := range list[place] {
			sum[b] += float64(v)
		}
	}
}

// OwnSound computes the own sound of some performers.
func (s *Stadium) OwnSound(some []Performer) *OwnSound {
	own := &OwnSound{}
	var featured, others []choir
	for _, c := range s.choirs(some) {
		if c.featured {
			featured = append(featured, c)
		} else {
			others = append(others, c)
		}
	}
	own.featured, own.bed = s.ownOf(featured), s.ownOf(others)
	return own
}

// ownOf is the sound of some choirs at all places.
func (s *Stadium) ownOf(choirs []choir) []singles {
	if len(choirs) == 0 {
		return nil
	}
	list := make([]singles, len(s.places))
	for j, at := range s.places {
		var e Energies
		for i := range choirs {
			choirs[i].addTo(&e, at, s)
		}
		for b, v := range e {
			list[j][b] = float32(v)
		}
	}
	return list
}

// Hear computes what is heard at the box and at every seat.
func (s *Stadium) Hear(p *Playing) *Balance { return s.HearWith(p, s.OwnSound(p.Performers)) }

// HearWith computes what Hear does, where the own sound of all performers is known, in one or in several parts.
func (s *Stadium) HearWith(p *Playing, own ...*OwnSound) *Balance {
	b := &Balance{Seats: make([]PlaceSound, len(s.Seats)), weights: s.weights, total: s.total}
	var background float64
	if s.BackgroundDB != nil {
		background = Energy(*s.BackgroundDB)
	}
	feeds := s.feeds(p, s.choirs(p.Performers))
	featured, bed := s.sides(p, feeds)
	n := len(s.Stacks)
	for j := range s.places {
		to := &b.Box
		if j > 0 {
			to = &b.Seats[j-1]
		}
		to.background = background
		for _, part := range own {
			addTo(&to.FeaturedOwn, part.featured, j)
			addTo(&to.BedOwn, part.bed, j)
		}
		transfer := s.transfer[j*n : (j+1)*n]
		to.FeaturedStacks, to.BedStacks = featured.at(transfer), bed.at(transfer)
	}
	for i := range p.Worn {
		if p.featuredMic(i) {
			b.FeaturedMics++
		}
	}
	b.Parts = s.parts(p, feeds)
	return b
}

// parts are the parts of the bed at the box, the loudest first, in the order of the performers and mics where equal.
func (s *Stadium) parts(p *Playing, feeds []stackFeed) []BedPart {
	var list []BedPart
	var energies []float64
	add := func(part BedPart, e Energies) {
		i := slices.IndexFunc(list, func(o BedPart) bool {
			return o.Name == part.Name && o.Fixed == part.Fixed && o.Stacks == part.Stacks
		})
		if i < 0 {
			i = len(list)
			list, energies = append(list, BedPart{Name: part.Name, Fixed: part.Fixed, Stacks: part.Stacks}),
				append(energies, 0)
		}
		list[i].Players, list[i].Mics = list[i].Players+part.Players, list[i].Mics+part.Mics
		energies[i] += e.A()
	}
	for i := range p.Performers {
		if q := &p.Performers[i]; !q.Featured && !q.Rests {
			add(BedPart{Name: q.Section, Players: 1}, s.Own(q, s.Box))
		}
	}
	box := s.transfer[:len(s.Stacks)]
	for i, f := range feeds {
		switch fixed := i - len(p.Worn); {
		case fixed >= 0:
			add(BedPart{Name: p.Fixed[fixed].Kind, Fixed: true, Stacks: true, Mics: 1}, f.at(box))
		case !p.featuredMic(i):
			add(BedPart{Name: p.Performers[p.Worn[i].Wearer].Section, Stacks: true, Mics: 1}, f.at(box))
		}
	}
	for i := range list {
		list[i].DBA = Decibels(energies[i])
	}
	list = slices.DeleteFunc(list, func(o BedPart) bool { return math.IsInf(o.DBA, -1) })
	slices.SortStableFunc(list, func(a, b BedPart) int { return cmp.Compare(b.DBA, a.DBA) })
	return list
}

// Own is a performer's own sound at a place.
func (s *Stadium) Own(p *Performer, at layout.Point) (e Energies) {
	for _, c := range s.choirs([]Performer{*p}) {
		c.addTo(&e, at, s)
	}
	return e
}
