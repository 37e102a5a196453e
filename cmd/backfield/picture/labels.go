package picture

import (
	"math"
	"sort"
)

// box is a part of a drawing.
type box struct{ x0, y0, x1, y1 float64 }

func (a box) overlap(b box) float64 {
	w, h := min(a.x1, b.x1)-max(a.x0, b.x0), min(a.y1, b.y1)-max(a.y0, b.y0)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h
}

func about(p Point, r float64) box { return box{p.X - r, p.Y - r, p.X + r, p.Y + r} }

// label is a word that wants to stand beside a place.
type label struct {
	text  string
	at    Point
	clear float64 // radius around the place that its sign takes
	size  float64
	bold  bool
	rank  int
}

// labels names the open mics, each beside its mark, or a little off with a line to it where it is crowded. The loudest
// choose first; each takes the place that covers least.
func (sc *scene) labels() {
	d := sc.d
	var list []label
	var hard, soft []box // what no label may cover, and what one had better not
	for i := range sc.people {
		p := &sc.people[i]
		if !p.open() {
			soft = append(soft, about(at(p.way[0]), d.mm(playerMM)))
			continue
		}
		hard = append(hard, about(at(p.way[0]), d.mm(ringMM+0.3)))
		list = append(list, label{p.name + "  " + level(p.mic.LevelDB), at(p.way[0]), d.mm(ringMM + 0.4), d.mm(labelMM), true, sc.rank(p.mic)})
		if n := len(p.way); n > 1 {
			soft = append(soft, about(at(p.way[n-1]), d.mm(0.8)))
		}
	}
	for i := range sc.fixed {
		c := &sc.fixed[i]
		place := Point{c.X, -c.Y}
		hard = append(hard, about(place, d.mm(1.2)))
		if c.Open {
			list = append(list, label{c.Player + "  " + level(c.LevelDB), place, d.mm(1.3), d.mm(labelMM * 0.88), false, len(ranks)})
		}
	}
	for _, k := range sc.s.Rig.Stacks {
		hard = append(hard, about(at(k.At), d.mm(1.5)))
		list = append(list, label{k.Name, at(k.At), d.mm(1.6), d.mm(labelMM * 0.88), false, len(ranks) + 1})
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].rank < list[j].rank })
	bounds := box{d.Min.X + d.mm(0.5), d.Min.Y + d.mm(0.5), d.Min.X + d.W - d.mm(0.5), d.Min.Y + d.H - d.mm(0.5)}
	for _, l := range list {
		spot := l.choose(bounds, hard, soft)
		hard = append(hard, spot)
		foot := Point{spot.x0, spot.y1 - (spot.y1-spot.y0-ascent*l.size)/2}
		nearest := Point{min(max(l.at.X, spot.x0), spot.x1), min(max(l.at.Y, spot.y0), spot.y1)}
		if gap := math.Hypot(nearest.X-l.at.X, nearest.Y-l.at.Y); gap > l.clear+d.mm(0.9) {
			ux, uy := (nearest.X-l.at.X)/gap, (nearest.Y-l.at.Y)/gap
			d.line("leader", Dark, d.mm(0.12), 0, Point{l.at.X + ux*l.clear, l.at.Y + uy*l.clear}, nearest)
		}
		ink := Dark
		if l.rank > len(ranks) {
			ink = Middle
		}
		d.haloed("label", ink, l.size, d.mm(0.35), l.bold, 0, (spot.x0+spot.x1)/2, foot.Y, l.text)
	}
}

// choose finds the spot that covers least: around the place at growing distances, the near ones and those to the side
// before the others.
func (l *label) choose(bounds box, hard, soft []box) box {
	w, h := wide(l.text, l.size, l.bold)+0.2*l.size, l.size*1.05
	best, least := box{}, math.Inf(1)
	for ring := 0; ring < 7; ring++ {
		r := l.clear + float64(ring)*h*0.8
		for turn := 0; turn < 16; turn++ {
			a := float64(turn) * math.Pi / 8
			sin, cos := math.Sincos(a) // from the right, clockwise
			x, y := l.at.X+r*cos+w/2*cos, l.at.Y+r*sin+h/2*sin
			if cos > -0.01 && cos < 0.01 {
				x = l.at.X
			}
			spot := box{x - w/2, y - h/2, x + w/2, y + h/2}
			size := w * h
			cost := float64(ring)*0.35 + 0.08*(1-math.Abs(cos)) + 0.02*(1-cos)
			cost += 60 * (size - spot.overlap(bounds)) / size
			for _, b := range hard {
				cost += 20 * spot.overlap(b) / (l.size * l.size)
			}
			for _, b := range soft {
				cost += 0.9 * spot.overlap(b) / ((b.x1 - b.x0) * (b.y1 - b.y0))
			}
			if cost < least-1e-9 {
				best, least = spot, cost
			}
		}
	}
	return best
}
