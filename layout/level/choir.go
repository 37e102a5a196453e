package level

import (
	"math"
	"slices"

	"backfield/layout"
)

// choir is performers with the same instrument at the same dynamics, and so with the same spectrum: all featured, or
// none.
type choir struct {
	instrument *Instrument
	dynamicsDB float64
	featured   bool
	source     Energies   // of each member of weight 1, on its axis at 1 m
	fine       *fineTable // nil: the same all around
	members    []member
}

// takes reports whether a performer belongs to the choir.
func (c *choir) takes(p *Performer) bool {
	return c.dynamicsDB == p.DynamicsDB && c.featured == p.Featured &&
		(c.instrument == p.Instrument || *c.instrument == *p.Instrument)
}

// member is a performer as the inner loop sees it: the place, the axis, and the energy against others of the choir.
type member struct{ x, y, z, ax, ay, az, w float64 }

// choirs puts those who play together. Their order is that in which they first appear.
func (s *Stadium) choirs(performers []Performer) []choir {
	var list []choir
	for i := range performers {
		p := &performers[i]
		if p.Rests {
			continue
		}
		at := slices.IndexFunc(list, func(c choir) bool { return c.takes(p) })
		if at < 0 {
			at = len(list)
			c := choir{instrument: p.Instrument, dynamicsDB: p.DynamicsDB, featured: p.Featured,
				source: s.source(p.Instrument, p.DynamicsDB)}
			if p.Instrument.Brass() || p.Instrument.Measured != nil {
				c.fine = s.DirectionsOf(p.Instrument).fine
			}
			list = append(list, c)
		}
		a := s.BellAxis(p)
		list[at].members = append(list[at].members, member{p.At.X, p.At.Y, p.At.Z, a.X, a.Y, a.Z, Energy(p.PlayerDB)})
	}
	return list
}

// throughMic is the choir as a fixed mic takes it: the members weighted by its pattern.
func (c *choir) throughMic(pickup func(from layout.Point) float64) choir {
	heard := *c
	heard.members = make([]member, len(c.members))
	for i, v := range c.members {
		v.w *= pickup(layout.Point{X: v.x, Y: v.y, Z: v.z})
		heard.members[i] = v
	}
	return heard
}

// addTo adds the choir's own sound at a place: for each member and band the source, the pattern of its bell, 1/r^2 and
// the air, where r is at least 0.5 m. This is where the time goes. So all of it comes from tables of energies, and the
// rows are found for some members first, since a processor overlaps the roots of several members but not their sums.
func (c *choir) addTo(sum *Energies, at layout.Point, s *Stadium) {
	var e Energies
	var found rows
	for members := c.members; len(members) > 0; {
		some := members[:min(len(members), len(rows{}))]
		members = members[len(some):]
		n := 0
		for i := range some {
			v := &some[i]
			dx, dy, dz := at.X-v.x, at.Y-v.y, at.Z-v.z
			r := math.Sqrt(dx*dx + dy*dy + dz*dz)
			if r < nearM || r >= airRows/airPerM {
				c.addOdd(sum, v, at, r, s)
				continue
			}
			inverse := 1 / r
			to := &found[n&(len(found)-1)]
			n++
			u := r * airPerM
			to.air = int32(u)
			to.beyond = u - float64(to.air)
			to.w = v.w * inverse * inverse
			if c.fine != nil {
				u = fineRow((dx*v.ax + dy*v.ay + dz*v.az) * inverse)
				to.fine = int32(u)
				to.past = u - float64(to.fine)
			}
		}
		if c.fine != nil {
			e.addBells(found[:n], s.air, c.fine)
		} else {
			e.addFlat(found[:n], s.air)
		}
	}
	sum.addProduct(&e, &c.source)
}

// rows are those of some members of a choir.
type rows [32]rowsOf

// rowsOf are the rows of the tables for a member at a place.
type rowsOf struct {
	air, fine    int32
	beyond, past float64 // how far from that row to the next, 0 to 1
	w            float64 // weight/r^2
}

// addBells adds members whose bells point somewhere.
func (e *Energies) addBells(found []rowsOf, air *airTable, fine *fineTable) {
	e0, e1, e2, e3, e4, e5, e6 := e[0], e[1], e[2], e[3], e[4], e[5], e[6]
	for i := range found {
		v := &found[i]
		a, d, f, g, w := &air[v.air], &fine[v.fine], v.beyond, v.past, v.w
		e0 += w * (a.at[0] + f*a.rise[0]) * (d.at[0] + g*d.rise[0])
		e1 += w * (a.at[1] + f*a.rise[1]) * (d.at[1] + g*d.rise[1])
		e2 += w * (a.at[2] + f*a.rise[2]) * (d.at[2] + g*d.rise[2])
		e3 += w * (a.at[3] + f*a.rise[3]) * (d.at[3] + g*d.rise[3])
		e4 += w * (a.at[4] + f*a.rise[4]) * (d.at[4] + g*d.rise[4])
		e5 += w * (a.at[5] + f*a.rise[5]) * (d.at[5] + g*d.rise[5])
		e6 += w * (a.at[6] + f*a.rise[6]) * (d.at[6] + g*d.rise[6])
	}
	*e = Energies{e0, e1, e2, e3, e4, e5, e6}
}

// addFlat adds members who sound the same all around.
func (e *Energies) addFlat(found []rowsOf, air *airTable) {
	e0, e1, e2, e3, e4, e5, e6 := e[0], e[1], e[2], e[3], e[4], e[5], e[6]
	for i := range found {
		v := &found[i]
		a, f, w := &air[v.air], v.beyond, v.w
		e0 += w * (a.at[0] + f*a.rise[0])
		e1 += w * (a.at[1] + f*a.rise[1])
		e2 += w * (a.at[2] + f*a.rise[2])
		e3 += w * (a.at[3] + f*a.rise[3])
		e4 += w * (a.at[4] + f*a.rise[4])
		e5 += w * (a.at[5] + f*a.rise[5])
		e6 += w * (a.at[6] + f*a.rise[6])
	}
	*e = Energies{e0, e1, e2, e3, e4, e5, e6}
}

// addOdd adds a member who is closer than distances count, or further away than the table of the air goes.
func (c *choir) addOdd(sum *Energies, v *member, at layout.Point, r float64, s *Stadium) {
	u := fineRow(cosine(layout.Point{X: v.x, Y: v.y, Z: v.z}, layout.Point{X: v.ax, Y: v.ay, Z: v.az}, at, r))
	r = max(r, nearM)
	e := left(s.absorption, r)
	n := int(u)
	for b := range e {
		if c.fine != nil {
			e[b] *= c.fine[n].at[b] + (u-float64(n))*c.fine[n].rise[b]
		}
		sum[b] += v.w / (r * r) * e[b] * c.source[b]
	}
}

// fineRow is where in a fineTable a cosine is.
func fineRow(cos float64) float64 {
	u := arccos(math.Abs(cos)) * finePerRad
	if cos < 0 {
		return fineRows - 1 - u
	}
	return u
}

// arccos is the angle of a cosine from 0 to 1, in radians, within 3e-8: M. Abramowitz and I. Stegun, Handbook of
// Mathematical Functions (1964), 4.4.46, from memory; a test compares it with math.Acos. The polynomial is in pairs,
// which a processor computes side by side.
func arccos(x float64) float64 {
	y := x * x
	return math.Sqrt(max(1-x, 0)) * (1.5707963050 - 0.2145988016*x + y*(0.0889789874-0.0501743046*x+
		y*(0.0308918810-0.0170881256*x+y*(0.0066700901-0.0012624911*x))))
}
