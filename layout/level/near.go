package level

import (
	"math"
	"slices"

	"backfield/layout"
)

// EarHeightM is how high a player's ear is (assumed).
const EarHeightM = 1.6

// NearLevel is how loud it is at one place, in dBA.
type NearLevel struct {
	StacksDBA float64 // the stacks alone; -Inf where they are silent
	AllDBA    float64 // with everybody's own sound
}

// Sounding is all that sounds at one moment, ready to be heard at places near people.
type Sounding struct {
	stadium *Stadium
	choirs  []choir
	sent    stackFeed
}

// Sounding prepares a moment.
func (s *Stadium) Sounding(p *Playing) *Sounding {
	all := s.choirs(p.Performers)
	return &Sounding{s, all, s.sum(s.feeds(p, all))}
}

// Near computes how loud it is at places near people: the players' ears, at their dots and EarHeightM up, their own
// instruments included, and wherever else people are.
func (x *Sounding) Near(places []layout.Point) []NearLevel {
	list := make([]NearLevel, len(places))
	for i, at := range places {
		stacks := x.StacksA(at)
		list[i] = NearLevel{Decibels(stacks), Decibels(stacks + x.OwnA(at))}
	}
	return list
}

// StacksA is the A-weighted energy of the stacks at a place.
func (x *Sounding) StacksA(at layout.Point) float64 {
	var room [8]Energies
	e := x.sent.at(x.stadium.appendTransfer(room[:0], at))
	return e.A()
}

// OwnA is the A-weighted energy of everybody's own sound at a place.
func (x *Sounding) OwnA(at layout.Point) float64 {
	var e Energies
	for c := range x.choirs {
		x.choirs[c].addTo(&e, at, x.stadium)
	}
	return e.A()
}

// StacksAtSeats is the A-weighted energy of the stacks alone at every seat. It costs a small part of Hear, so it can be
// computed at every quarter count. Own sound changes slowly at a seat, so that of the ends of a snapshot is enough to find
// the loudest seat, and Near then has its level.
func (x *Sounding) StacksAtSeats() []float64 {
	s := x.stadium
	// The weights go into the feed, so that a seat costs one product for each stack and band.
	sent := slices.Clone(x.sent)
	for k := range sent {
		for b := range sent[k] {
			sent[k][b] *= aWeights[b]
		}
	}
	n := len(s.Stacks)
	list := make([]float64, len(s.Seats))
	for j := range list {
		transfer := s.transfer[(j+1)*n : (j+2)*n]
		for k := range sent {
			list[j] += sent[k].dot(&transfer[k])
		}
	}
	return list
}

// AllowedHours is how long a level in dBA is a full day's dose: 8 h at 85 dBA, half for every 3 dB more (NIOSH
// publication 98-126, read).
func AllowedHours(dba float64) float64 { return 8 * math.Exp2(-(dba-85)/3) }

// DosePct is the part of a day's dose that a level in dBA is in so many hours, in percent. Doses add up.
func DosePct(dba, hours float64) float64 { return 100 * hours / AllowedHours(dba) }
