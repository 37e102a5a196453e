// Package readings judges what was read of levels on site: which reading most likely is wrong, and which one a crew reads
// again. It takes what each comes to, and compares them with what is usual and with each other, so that the one that
// spoils the others is named, and not the others. All of it is a warning: nothing that is sent depends on a reading.
package readings

import (
	"math"

	"backfield/layout/source"
)

// SiteReadings is the readings of a night, and what each comes to. What was not read, or is of no use, is nil or empty.
type SiteReadings struct {
	Background *Reading  // comes to nothing
	TooSoft    []Reading // those less than 3 dB above the background, which come to nothing
	Noise      *Reading  // DB: N, the level at 1 m from the stack for a nominal input
	Brass      *Reading  // DB: how much louder everybody is than the table
	Solos      []Reading // DB: how much louder the player is than the table and the brass
	Rings      []Reading // DB: what is added to the mic's computed loop
}

// Reading is one reading.
type Reading struct {
	Name string      // of the stack, section, player or mic
	Kind string      // "background", "noise", "brass", "solo" or "ring"
	At   source.Span // of the number
	Read float64     // as typed: dBA, of a ring the fader in dB
	// ClearDBA is without the background, not of rings.
	ClearDBA float64
	DB       float64 // what it comes to
}

// What is usual, in dB (all assumed). A stack with less than leastNominalDB at 1 m is softer than one trumpet at forte
// beside it, and does not amplify; over mostNominalDB, with 20 dB above nominal, it would peak at over 130 dB.
const (
	leastNominalDB = 94
	mostNominalDB  = 112
	leastBandDB    = -6
	mostBandDB     = 12
	mostPlayerDB   = 8
	mostRingDB     = 12
	quietDBA       = 25 // of a background: softer is indoors, or the meter's own noise
	loudDBA        = 70 // that of a full house: read while it is quiet
)

// Where several readings are off by about the same, the one that they all build on is wrong.
const (
	togetherDB = 6 // they are off by at least so much
	apartDB    = 5 // and differ by at most so much
)

// Once warns about players or mics that are read more than once, and says of each reading whether it is the only one.
func Once(list []Reading, p *source.Problems) []bool {
	once := make([]bool, len(list))
	first := map[string]int{}
	for i, r := range list {
		k, before := first[r.Name]
		if once[i] = !before; before {
			once[k] = false
			p.Add(twice(&list[k], &list[i]))
			continue
		}
		first[r.Name] = i
	}
	return once
}

// Judge warns about the readings that look wrong.
func Judge(n *SiteReadings, p *source.Problems) {
	n.background(p)
	n.noise(p)
	n.brass(p)
}

// background warns about readings that it covers: where it covers most of them, it is the one to read again.
func (n *SiteReadings) background(p *source.Problems) {
	if n.Background == nil {
		return
	}
	used := len(n.Solos)
	for _, r := range []*Reading{n.Noise, n.Brass} {
		if r != nil {
			used++
		}
	}
	if len(n.TooSoft) > 1 && len(n.TooSoft) > used {
		p.Add(loudBackground(n.Background, n.TooSoft))
		return
	}
	if dba := n.Background.Read; dba < quietDBA || dba > loudDBA {
		p.Add(oddBackground(n.Background))
	}
	for i := range n.TooSoft {
		p.Add(nearBackground(&n.TooSoft[i], n.Background.Read))
	}
}

// noise warns about the noise and the rings, which are computed from it.
func (n *SiteReadings) noise(p *source.Problems) {
	offDB, together := together(n.Rings)
	together = together && n.Noise != nil
	odd := n.Noise != nil && outside(n.Noise.DB, leastNominalDB, mostNominalDB)
	switch {
	case odd:
		p.Add(oddNominal(n.Noise))
	case together:
		p.Add(ringsTogether(n.Noise, len(n.Rings), offDB))
	}
	for i := range n.Rings {
		r := &n.Rings[i]
		// A noise read too loud makes every mic ring later than computed, by as much: that is said of the noise.
		byNoise := odd && math.Abs(r.DB+n.Noise.DB-(leastNominalDB+mostNominalDB)/2) <= mostRingDB
		if math.Abs(r.DB) > mostRingDB && !byNoise && !together {
			p.Add(oddRing(r))
		}
	}
}

// brass warns about the brass and the soloists, who are computed from it.
func (n *SiteReadings) brass(p *source.Problems) {
	offDB, together := together(n.Solos)
	together = together && n.Brass != nil
	odd := n.Brass != nil && outside(n.Brass.DB, leastBandDB, mostBandDB)
	switch {
	case odd:
		p.Add(oddBand(n.Brass))
	case together:
		p.Add(solosTogether(n.Brass, len(n.Solos), offDB))
	}
	swapped := map[int]bool{}
	if !together {
		swapped = n.swapped(p)
	}
	for i := range n.Solos {
		s := &n.Solos[i]
		byBrass := odd && math.Abs(s.DB+n.Brass.DB) <= mostBandDB
		if math.Abs(s.DB) > mostPlayerDB && !byBrass && !together && !swapped[i] {
			p.Add(oddSolo(s, n.Brass))
		}
	}
}

// swapped warns about two soloists who are both off, and would not be if each had the other's reading.
func (n *SiteReadings) swapped(p *source.Problems) map[int]bool {
	found := map[int]bool{}
	for i := range n.Solos {
		for j := i + 1; j < len(n.Solos); j++ {
			a, b := &n.Solos[i], &n.Solos[j]
			if found[i] || found[j] || a.DB*b.DB >= 0 || math.Abs(a.DB-b.DB) < togetherDB {
				continue
			}
			asRead := math.Abs(a.DB) + math.Abs(b.DB)
			swap := a.ClearDBA - b.ClearDBA // the own sound of each at the meter is ClearDBA - DB
			ifSwapped := math.Abs(b.DB+swap) + math.Abs(a.DB-swap)
			if ifSwapped <= asRead/2 {
				p.Add(swapped(a, b))
				found[i], found[j] = true, true
			}
		}
	}
	return found
}

// together is by how much several readings are off, if all of them are off by about the same.
func together(list []Reading) (offDB float64, ok bool) {
	if len(list) < 2 {
		return 0, false
	}
	lo, hi := list[0].DB, list[0].DB
	for _, r := range list {
		lo, hi = min(lo, r.DB), max(hi, r.DB)
		offDB += r.DB / float64(len(list))
	}
	return offDB, hi-lo <= apartDB && (lo >= togetherDB || hi <= -togetherDB)
}

func outside(v, lo, hi float64) bool { return v < lo || v > hi }
