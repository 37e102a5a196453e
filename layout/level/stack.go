package level

import (
	"math"

	"backfield/layout"
	"backfield/layout/stands"
)

// AimedStack is a loudspeaker stack that points somewhere. Subs are none.
type AimedStack struct {
	Name   string
	At     layout.Point
	Aim    layout.Point // where it points
	TrimDB float64

	AcrossDeg, UpDeg float64 // nominal coverage, where it is 6 dB down at either edge
	MouthM           float64 // the size of what holds the sound together
	FrontBackDB      Bands   // how much quieter it is behind than in front
}

// DefaultStack is a stack of which only the place and the aim are known: 90 by 40 degrees, a mouth of 0.5 m, and 3 to
// 20 dB from front to back (all assumed; the maker's data replace them).
func DefaultStack(at, aim layout.Point) AimedStack {
	return AimedStack{At: at, Aim: aim, AcrossDeg: 90, UpDeg: 40, MouthM: 0.5,
		FrontBackDB: Bands{3, 6, 9, 14, 18, 20, 20}}
}

// offDB is how much quieter the loudest send is that is off, in dB.
const offDB = -80

// StereoSendDB is the send of a channel to a stack of a stereo rig: 20 lg(left l + right r), where l and r are what the
// pan gives to the left and right bus, and left and right what the stack takes of them, all as amplitudes.
func StereoSendDB(left, right, l, r float64) float64 { return 20 * math.Log10(left*l+right*r) }

// TowardDB is the level in dB toward a point, against that on the aim at the same distance: a Gaussian beam (assumed)
// of half its coverage at -6 dB, az degrees beside the aim in plan and el above it (az is 0 straight above and below),
//
//	-min(6 ((2 az/h)^2 + (2 el/v)^2), FrontBackDB).
//
// Below some frequency a mouth is too small to hold a beam together: h is at least 25400/(MouthM f) degrees, and at most
// 360 (Keele 1975, read in a source that quotes it), and v likewise.
func (k *AimedStack) TowardDB(p layout.Point) (db Bands) {
	az, el := k.off(p)
	for b, f := range MidbandsHz {
		across, up := 2*az/k.coverage(k.AcrossDeg, f), 2*el/k.coverage(k.UpDeg, f)
		db[b] = -min(6*(across*across+up*up), k.FrontBackDB[b])
	}
	return db
}

func (k *AimedStack) coverage(nominal, f float64) float64 {
	return min(360, max(nominal, 25400/(k.MouthM*f)))
}

// off is how far a point is off the aim, in degrees: in plan, -180 to 180, and in elevation.
func (k *AimedStack) off(p layout.Point) (az, el float64) {
	if !upright(k.At, p) && !upright(k.At, k.Aim) {
		az = wrapDeg((p.Azimuth(k.At) - k.Aim.Azimuth(k.At)) * degPerRad)
	}
	return az, elevation(k.At, p) - elevation(k.At, k.Aim)
}

// upright reports whether a point is straight above or below another, and so in no direction in plan.
func upright(from, p layout.Point) bool { return p.X == from.X && p.Y == from.Y }

// elevation is how high p is above the horizontal, seen from a point, in degrees.
func elevation(from, p layout.Point) float64 {
	return math.Atan2(p.Z-from.Z, math.Hypot(p.X-from.X, p.Y-from.Y)) * degPerRad
}

// MiddleRow is where a stack aims when the rig does not say, beside its own x: the y and z of the middle row of the
// stands, which is the mean of a block's front and back row; several blocks count by their total weight, and surveyed
// seats as one more block. Without stands it is the reference.
func MiddleRow(blocks []stands.Block, surveyed []stands.Seat, reference layout.Point) (y, z float64) {
	var w float64
	add := func(atY, atZ, weight float64) {
		y, z, w = y+weight*atY, z+weight*atZ, w+weight
	}
	for _, b := range blocks {
		add((b.Front.Y+b.Back.Y)/2, (b.Front.Z+b.Back.Z)/2, float64(b.Size())*b.Weight)
	}
	var sumY, sumZ, weight float64
	for _, s := range surveyed {
		sumY, sumZ, weight = sumY+s.At.Y, sumZ+s.At.Z, weight+s.Weight
	}
	if n := float64(len(surveyed)); n > 0 {
		add(sumY/n, sumZ/n, weight)
	}
	if w <= 0 {
		return reference.Y, reference.Z
	}
	return y / w, z / w
}

// beam is an AimedStack as it is computed with: what does not depend on the point is done.
type beam struct {
	at           layout.Point
	az, el       float64 // of the aim, in degrees
	upright      bool    // it points straight up or down
	trim         float64 // energy
	across, up   Bands   // 6 (2/coverage)^2, of each band
	least        Energies
	leastDB      Bands
	sameAsBefore [bandCount]bool // the band's coverage is that of the one before
}

func (k *AimedStack) beam() *beam {
	b := &beam{at: k.At, az: k.Aim.Azimuth(k.At) * degPerRad, el: elevation(k.At, k.Aim),
		upright: upright(k.At, k.Aim), trim: Energy(k.TrimDB)}
	for i, f := range MidbandsHz {
		h, v := k.coverage(k.AcrossDeg, f), k.coverage(k.UpDeg, f)
		b.across[i], b.up[i] = 6*(2/h)*(2/h), 6*(2/v)*(2/v)
		b.leastDB[i], b.least[i] = -k.FrontBackDB[i], Energy(-k.FrontBackDB[i])
		b.sameAsBefore[i] = i > 0 && b.across[i] == b.across[i-1] && b.up[i] == b.up[i-1]
	}
	return b
}

// transfer is the energy at p of a channel with level 0 dB at 1 m from the stack, by band: trim, pattern and distance,
// without air. It is AimedStack.TowardDB, faster.
func (k *beam) transfer(p layout.Point) (e Energies) {
	r := max(k.at.Distance(p), nearM)
	az, el := wrapDeg(p.Azimuth(k.at)*degPerRad-k.az), elevation(k.at, p)-k.el
	if k.upright || upright(k.at, p) {
		az = 0
	}
	level := k.trim / (r * r)
	az, el = az*az, el*el
	db, toward := 0.0, -1.0 // of the band before, where a band has the same coverage; -1: not yet computed
	for b := range e {
		if !k.sameAsBefore[b] {
			db, toward = -(k.across[b]*az + k.up[b]*el), -1
		}
		if db <= k.leastDB[b] {
			e[b] = level * k.least[b]
			continue
		}
		if toward < 0 {
			toward = Energy(db)
		}
		e[b] = level * toward
	}
	return e
}

// wrapDeg brings a difference of two angles into -180 to 180.
func wrapDeg(deg float64) float64 {
	if deg > 180 {
		return deg - 360
	}
	if deg < -180 {
		return deg + 360
	}
	return deg
}
