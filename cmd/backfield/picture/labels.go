package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cmd/backfield/letters"
	"backfield/cue"
	"backfield/layout/rig"
)

// box is a rectangle in a drawing, in meters.
type box struct{ x0, y0, x1, y1 float64 }

func (a box) overlap(b box) float64 {
	w, h := min(a.x1, b.x1)-max(a.x0, b.x0), min(a.y1, b.y1)-max(a.y0, b.y0)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h
}

// distM is how far a place is from the box, in meters.
func (a box) distM(p XY) float64 {
	return math.Hypot(p.X-min(max(p.X, a.x0), a.x1), p.Y-min(max(p.Y, a.y0), a.y1))
}

// holds reports whether a place is inside the box.
func (a box) holds(p XY) bool { return p.X > a.x0 && p.X < a.x1 && p.Y > a.y0 && p.Y < a.y1 }

func about(p XY, r float64) box { return box{p.X - r, p.Y - r, p.X + r, p.Y + r} }

// label is a name that goes next to a place, and a tail in regular weight.
type label struct {
	text, tail string
	at         XY
	clear      float64 // radius of the sign at the place
	size       float64
	bold       bool
	ink        Ink
	rank       int

	placed bool
	spot   box
}

// signs is what the labels of a picture name, and what they must not cover.
type signs struct {
	mm     float64 // a millimeter on paper
	bounds box
	hard   []box // what a label must not cover
	soft   []box // what a label should not cover
	labels []label
}

// labels names the open mics, each next to its mark, or a little away with a line to it if there is no room. The
// loudest roles choose first. Each label takes the place that covers least.
func (sc *cueScene) labels() {
	d := sc.d
	edge := d.mm(0.5)
	g := signs{mm: d.mm(1), bounds: box{d.Min.X + edge, d.Min.Y + edge, d.Min.X + d.W - edge, d.Min.Y + d.H - edge}}
	for i := range sc.people {
		g.person(sc, &sc.people[i])
	}
	for i := range sc.fixed {
		g.micStand(sc, &sc.fixed[i])
	}
	for _, k := range sc.s.Rig.Stacks {
		g.stack(sc, k)
	}
	slices.SortStableFunc(g.labels, func(a, b label) int { return cmp.Compare(a.rank, b.rank) })
	for again := range 2 { // the second time each label knows where all others are
		for i := range g.labels {
			l := &g.labels[i]
			if again > 0 {
				l.placed = false
			}
			l.spot = l.choose(&g)
			l.placed = true
		}
	}
	for i := range g.labels {
		l := &g.labels[i]
		if from, to := l.leader(l.spot); l.needsLeader(&g, from, to) {
			d.line("leader", l.ink, d.mm(0.16), 0, from, to)
		}
		foot := XY{(l.spot.x0 + l.spot.x1) / 2, (l.spot.y0 + l.spot.y1 + letters.Ascent*l.size) / 2}
		d.haloed(d.mm(0.35), Shape{
			Class: "label", Points: []XY{foot},
			Fill: l.ink, Text: l.text, Tail: l.tail, SizeM: l.size, Bold: l.bold,
		})
	}
}

// needsLeader reports whether a label needs a line to its sign: it is away from it, or could seem to belong to another.
func (l *label) needsLeader(g *signs, from, to XY) bool {
	long := math.Hypot(to.X-from.X, to.Y-from.Y)
	return long > g.mm*0.7 || long > g.mm*0.1 && l.mistaken(l.spot, g) > 0
}

func (g *signs) person(sc *cueScene, p *person) {
	d, place := sc.d, at(p.path[0])
	if !p.open() {
		g.soft = append(g.soft, about(place, d.mm(playerMM)))
		return
	}
	g.hard = append(g.hard, about(place, d.mm(ringMM+0.3)))
	g.labels = append(g.labels, label{
		text: letters.ShortenMiddle(p.name, d.text(labelMM), d.mm(nameMM), true), tail: LevelText(p.mic.LevelDB),
		at: place, clear: d.mm(ringMM + 0.4), size: d.text(labelMM), bold: true, ink: Dark, rank: sc.rank(p.mic),
	})
	var corners []XY
	for _, corner := range p.path {
		corners = append(corners, at(corner))
	}
	g.avoidLine(corners, d.mm(1.5))
	if image, ok := Image(sc.s, *p.mic); ok {
		g.avoidLine([]XY{place, at(image)}, d.mm(1.5))
	}
}

func (g *signs) micStand(sc *cueScene, c *cue.Channel) {
	d, place := sc.d, XY{c.X, -c.Y}
	g.hard = append(g.hard, about(place, d.mm(1.2)))
	if c.Open {
		g.labels = append(g.labels, label{
			text: c.Player, tail: LevelText(c.LevelDB),
			at: place, clear: d.mm(1.3), size: d.text(finePrintMM), ink: Dark, rank: len(ranks) + 1,
		})
	}
}

func (g *signs) stack(sc *cueScene, k rig.Stack) {
	d, place := sc.d, at(k.At)
	g.hard = append(g.hard, about(place, d.mm(1.5)))
	zone := ""
	if sc.s.Rig.Zones && k.Zone > 0 {
		zone = fmt.Sprintf("(zone %d)", k.Zone)
	}
	g.labels = append(g.labels, label{
		text: k.Name, tail: zone,
		at: place, clear: d.mm(1.6), size: d.text(finePrintMM), ink: Middle, rank: len(ranks),
	})
}

// avoidLine makes labels avoid a line, which is cut into pieces of at most a step.
func (g *signs) avoidLine(line []XY, step float64) {
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		n := int(math.Hypot(q.X-p.X, q.Y-p.Y)/step) + 1
		for j := range n {
			g.soft = append(g.soft, about(between(p, q, (float64(j)+0.5)/float64(n)), step/3))
		}
	}
}

// between is the place at a part of the line from p to q; 0 is p, 1 is q.
func between(p, q XY, part float64) XY {
	return XY{p.X + (q.X-p.X)*part, p.Y + (q.Y-p.Y)*part}
}

// leader is the line from the sign to the label at a spot.
func (l *label) leader(spot box) (from, to XY) {
	to = XY{min(max(l.at.X, spot.x0), spot.x1), min(max(l.at.Y, spot.y0), spot.y1)}
	gap := spot.distM(l.at)
	if gap <= l.clear {
		return to, to
	}
	return XY{l.at.X + (to.X-l.at.X)/gap*l.clear, l.at.Y + (to.Y-l.at.Y)/gap*l.clear}, to
}

// A label is tried at this many distances, and at each in this many directions.
const (
	rings = 9
	turns = 24
)

// choose finds the spot with the least cost, around the place at growing distances. Near spots and spots to the side
// cost less than others. A spot nearer to another label's sign costs more.
func (l *label) choose(g *signs) box {
	w, h := l.extent()
	reach := l.clear + w + rings*h
	within := func(boxes []box) []box {
		return slices.DeleteFunc(slices.Clone(boxes), func(b box) bool { return b.distM(l.at) > reach })
	}
	others := slices.Clone(g.hard)
	for i := range g.labels {
		if g.labels[i].placed {
			others = append(others, g.labels[i].spot)
		}
	}
	hard, soft := within(others), within(g.soft)
	best, least := box{}, math.Inf(1)
	for ring := range rings {
		for turn := range turns {
			spot, cost := l.spotAt(w, h, ring, turn)
			cost += l.covering(spot, g.bounds, hard, soft)
			if cost >= least {
				continue
			}
			cost += l.mistaken(spot, g) + l.crossing(spot, g, hard)
			if cost < least-1e-9 {
				best, least = spot, cost
			}
		}
	}
	return best
}

// extent is the width and height of the text.
func (l *label) extent() (w, h float64) {
	w = letters.Wide(l.text, l.size, l.bold) + 0.2*l.size
	if l.tail != "" {
		w += letters.Wide(" "+l.tail, l.size, false)
	}
	return w, l.size * 1.05
}

// spotAt is one spot to try, and the cost of its distance and direction. Turns go clockwise from the right. Names of
// stacks and fixed mics stay closer to their sign than names of players.
func (l *label) spotAt(w, h float64, ring, turn int) (spot box, cost float64) {
	r := l.clear + float64(ring)*h*0.7
	sin, cos := math.Sincos(float64(turn) * math.Pi / (turns / 2))
	x, y := l.at.X+(r+w/2)*cos, l.at.Y+(r+h/2)*sin
	step := 0.3
	if !l.bold {
		step = 0.4
	}
	return box{x - w/2, y - h/2, x + w/2, y + h/2}, step*float64(ring) + 0.1*(1-math.Abs(cos)) + 0.02*(1-cos)
}

// covering is the cost of what the label covers, and of reaching over the picture's edge.
func (l *label) covering(spot, bounds box, hard, soft []box) float64 {
	area := spot.overlap(spot)
	cost := 60 * (area - spot.overlap(bounds)) / area
	for _, b := range hard {
		cost += 60 * spot.overlap(b) / (l.size * l.size)
	}
	for _, b := range soft {
		cost += 0.6 * spot.overlap(b) / b.overlap(b)
	}
	return cost
}

// crowded is the cost of a sign that the label could seem to belong to by mistake. It is more than the cost of the
// farthest ring, so that a name goes away from its sign, with a line, before it goes to another's.
const crowded = 5.0

// mistaken is the cost of a spot that is nearer to the sign of another label, or as near and more in its middle. A spot
// as near to two signs costs a little even in the middle of its own.
func (l *label) mistaken(spot box, g *signs) (cost float64) {
	middle := XY{(spot.x0 + spot.x1) / 2, (spot.y0 + spot.y1) / 2}
	own, ownMiddle := spot.distM(l.at), math.Hypot(middle.X-l.at.X, middle.Y-l.at.Y)
	for i := range g.labels {
		other := &g.labels[i]
		if other.at == l.at {
			continue
		}
		away, inMiddle := spot.distM(other.at), math.Hypot(middle.X-other.at.X, middle.Y-other.at.Y) < ownMiddle
		switch {
		case away < own-0.1*g.mm, away < own+1.2*g.mm && inMiddle:
			return crowded
		case away < own+0.5*g.mm:
			cost = crowded / 50
		}
	}
	return cost
}

// crossing is the cost of a leader that goes through other signs or names, since it would seem to come from them, or
// across another leader. A leader past another sign's edge counts too.
func (l *label) crossing(spot box, g *signs, hard []box) (cost float64) {
	from, to := l.leader(spot)
	if from == to {
		return 0
	}
	for _, b := range hard {
		if b.holds(l.at) {
			continue
		}
		for i := 1; i < 8; i++ {
			if b.holds(between(from, to, float64(i)/8)) {
				cost += crowded
				break
			}
		}
	}
	for i := range g.labels {
		if other := &g.labels[i]; other.placed && other.at != l.at {
			if a, b := other.leader(other.spot); a != b && cross2(from, to, a, b) {
				cost += crowded
			}
		}
	}
	return cost
}

// cross2 reports whether two lines cross.
func cross2(a, b, c, d XY) bool {
	side := func(p, q, r XY) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}
