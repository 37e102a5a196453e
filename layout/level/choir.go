package level

import (
	"math"

	"backfield/layout"
)

// choir is performers with the same instrument at the same dynamics, and so with the same spectrum: all featured, or
// none.
type choir struct {
	choirKind
	source  Energies   // of each member of weight 1, on its axis at 1 m
	fine    *fineTable // nil: the same all around
	members []member
}

// choirKind is what the performers of a choir have in common.
type choirKind struct {
	bell       bellKind
	power      float64
	shape      Bands
	dynamicsDB float64
	featured   bool
}

// member is a performer as the inner loop sees it: the place, the axis, and the energy against others of the choir.
type member struct{ x, y, z, ax, ay, az, w float64 }

// choirs puts performers together. Their order is that in which they first appear.
func (s *Stadium) choirs(performers []Performer) []choir {
	var list []choir
	index := map[choirKind]int{}
	for i := range performers {
		p := &performers[i]
		in := p.Instrument
		kind := choirKind{bellKind{in.BellM, in.Measured}, in.PowerDB, in.ShapeDB, p.DynamicsDB, p.Featured}
		at, ok := index[kind]
		if !ok {
			at = len(list)
			index[kind] = at
			c := choir{choirKind: kind, source: s.source(in, p.DynamicsDB)}
			if d := s.DirectionsOf(in); in.Brass() || in.Measured != nil {
				c.fine = d.fine
			}
			list = append(list, c)
		}
		a := p.Facing.axis(p.At, s.Box, s.BellUpDeg)
		list[at].members = append(list[at].members, member{p.At.X, p.At.Y, p.At.Z, a.X, a.Y, a.Z, Energy(p.PlayerDB)})
	}
	return list
}

// throughMic is the choir as a fixed mic takes it: the members weighted by its pattern.
func (c *choir) throughMic(m *FixedMic, box layout.Point) choir {
	heard := *c
	heard.members = make([]member, len(c.members))
	for i, v := range c.members {
		v.w *= m.toward(layout.Point{X: v.x, Y: v.y, Z: v.z}, box)
		heard.members[i] = v
	}
	return heard
}

// addTo adds the choir's own sound at a place: for each member and band the source, the pattern of its bell, 1/r^2 and
// the air, where r is at least 0.5 m. All of it comes from tables of energies, since this is where the time goes.
func (c *choir) addTo(sum *Energies, at layout.Point, s *Stadium) {
	var e0, e1, e2, e3, e4, e5, e6 float64
	air := s.air
	for i := range c.members {
		v := &c.members[i]
		dx, dy, dz := at.X-v.x, at.Y-v.y, at.Z-v.z
		r := math.Sqrt(dx*dx + dy*dy + dz*dz)
		cos := 1.0
		if r > 0 {
			cos = (dx*v.ax + dy*v.ay + dz*v.az) / r
		}
		if r < nearM {
			r = nearM
		}
		row := r * airPerM
		if row >= airRows {
			c.addFar(sum, v, r, cos, s)
			continue
		}
		w := v.w / (r * r)
		n := int(row)
		f := row - float64(n)
		lo, hi := &air[n], &air[n+1]
		a0, a1, a2, a3 := lo[0]+f*(hi[0]-lo[0]), lo[1]+f*(hi[1]-lo[1]), lo[2]+f*(hi[2]-lo[2]), lo[3]+f*(hi[3]-lo[3])
		a4, a5, a6 := lo[4]+f*(hi[4]-lo[4]), lo[5]+f*(hi[5]-lo[5]), lo[6]+f*(hi[6]-lo[6])
		if c.fine == nil {
			e0, e1, e2, e3 = e0+w*a0, e1+w*a1, e2+w*a2, e3+w*a3
			e4, e5, e6 = e4+w*a4, e5+w*a5, e6+w*a6
			continue
		}
		row = arccos(cos) * finePerRad
		n = int(row)
		f = row - float64(n)
		lo, hi = &c.fine[n], &c.fine[n+1]
		e0 += w * a0 * (lo[0] + f*(hi[0]-lo[0]))
		e1 += w * a1 * (lo[1] + f*(hi[1]-lo[1]))
		e2 += w * a2 * (lo[2] + f*(hi[2]-lo[2]))
		e3 += w * a3 * (lo[3] + f*(hi[3]-lo[3]))
		e4 += w * a4 * (lo[4] + f*(hi[4]-lo[4]))
		e5 += w * a5 * (lo[5] + f*(hi[5]-lo[5]))
		e6 += w * a6 * (lo[6] + f*(hi[6]-lo[6]))
	}
	sum.addProduct(&Energies{e0, e1, e2, e3, e4, e5, e6}, &c.source)
}

// addFar adds a member that is further away than the table of the air goes.
func (c *choir) addFar(sum *Energies, v *member, r, cos float64, s *Stadium) {
	air := left(s.absorption, r)
	if c.fine != nil {
		row := arccos(cos) * finePerRad
		n := int(row)
		for b := range air {
			air[b] *= c.fine[n][b] + (row-float64(n))*(c.fine[n+1][b]-c.fine[n][b])
		}
	}
	for b := range air {
		sum[b] += v.w / (r * r) * air[b] * c.source[b]
	}
}

// arccos is the angle of a cosine in radians, 0 to pi, within 3e-8: M. Abramowitz and I. Stegun, Handbook of
// Mathematical Functions (1964), 4.4.46, from memory; a test compares it with math.Acos.
func arccos(cos float64) float64 {
	x := math.Abs(cos)
	if x > 1 {
		x = 1
	}
	t := math.Sqrt(1-x) * (1.5707963050 + x*(-0.2145988016+x*(0.0889789874+x*(-0.0501743046+
		x*(0.0308918810+x*(-0.0170881256+x*(0.0066700901-x*0.0012624911)))))))
	if cos < 0 {
		return math.Pi - t
	}
	return t
}
