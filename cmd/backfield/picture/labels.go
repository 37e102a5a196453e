package picture

import (
	"fmt"
	"math"
	"slices"
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

// from is how far a place is from the box.
func (a box) from(p Point) float64 {
	return math.Hypot(p.X-min(max(p.X, a.x0), a.x1), p.Y-min(max(p.Y, a.y0), a.y1))
}

func about(p Point, r float64) box { return box{p.X - r, p.Y - r, p.X + r, p.Y + r} }

// label is a name that wants to stand beside a place, and a tail in regular weight.
type label struct {
	text, tail string
	at         Point
	clear      float64 // radius around the place that its sign takes
	size       float64
	bold       bool
	ink        Ink
	rank       int
}

// labels names the open mics, each beside its mark, or a little off with a line to it where it is crowded. The loudest
// choose first; each takes the place that covers least.
func (sc *scene) labels() {
	d := sc.d
	var list []label
	var hard, soft []box // what no label may cover, and what one had better not
	along := func(line []Point, step float64) {
		for i := 1; i < len(line); i++ {
			p, q := line[i-1], line[i]
			n := int(math.Hypot(q.X-p.X, q.Y-p.Y)/step) + 1
			for j := range n {
				t := (float64(j) + 0.5) / float64(n)
				soft = append(soft, about(Point{p.X + (q.X-p.X)*t, p.Y + (q.Y-p.Y)*t}, step/3))
			}
		}
	}
	for i := range sc.people {
		p := &sc.people[i]
		place := at(p.way[0])
		if !p.open() {
			soft = append(soft, about(place, d.mm(playerMM)))
			continue
		}
		hard = append(hard, about(place, d.mm(ringMM+0.3)))
		list = append(list, label{brief(p.name, d.mm(labelMM), d.mm(nameMM), true), level(p.mic.LevelDB), place, d.mm(ringMM + 0.4), d.mm(labelMM), true, Dark, sc.rank(p.mic)})
		var way []Point
		for _, corner := range p.way {
			way = append(way, at(corner))
		}
		along(way, d.mm(1.5))
		if image, ok := Image(sc.s, *p.mic); ok {
			along([]Point{place, at(image)}, d.mm(1.5))
		}
	}
	for i := range sc.fixed {
		c := &sc.fixed[i]
		place := Point{c.X, -c.Y}
		hard = append(hard, about(place, d.mm(1.2)))
		if c.Open {
			list = append(list, label{c.Player, level(c.LevelDB), place, d.mm(1.3), d.mm(finePrintMM), false, Dark, len(ranks) + 1})
		}
	}
	for _, k := range sc.s.Rig.Stacks {
		hard = append(hard, about(at(k.At), d.mm(1.5)))
		zone := ""
		if sc.s.Rig.Zones && k.Zone > 0 {
			zone = fmt.Sprintf("(zone %d)", k.Zone)
		}
		list = append(list, label{k.Name, zone, at(k.At), d.mm(1.6), d.mm(finePrintMM), false, Middle, len(ranks)})
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].rank < list[j].rank })
	bounds := box{d.Min.X + d.mm(0.5), d.Min.Y + d.mm(0.5), d.Min.X + d.W - d.mm(0.5), d.Min.Y + d.H - d.mm(0.5)}
	for _, l := range list {
		spot := l.choose(bounds, hard, soft, list)
		hard = append(hard, spot)
		if from, to := l.leader(spot); math.Hypot(to.X-from.X, to.Y-from.Y) > d.mm(0.7) {
			d.line("leader", l.ink, d.mm(0.16), 0, from, to)
		}
		d.haloed("label", l.ink, l.size, d.mm(0.35), l.bold, 0, (spot.x0+spot.x1)/2, (spot.y0+spot.y1+ascent*l.size)/2, l.text, l.tail)
	}
}

// leader is the line from the sign to the word at a spot.
func (l *label) leader(spot box) (from, to Point) {
	to = Point{min(max(l.at.X, spot.x0), spot.x1), min(max(l.at.Y, spot.y0), spot.y1)}
	gap := spot.from(l.at)
	if gap <= l.clear {
		return to, to
	}
	return Point{l.at.X + (to.X-l.at.X)/gap*l.clear, l.at.Y + (to.Y-l.at.Y)/gap*l.clear}, to
}

// rings is how many distances a word is tried at.
const rings = 9

// choose finds the spot that covers least: around the place at growing distances, the near ones and those to the side
// before the others, and none that is nearer to another's sign.
func (l *label) choose(bounds box, hard, soft []box, all []label) box {
	w, h := wide(l.text, l.size, l.bold)+0.2*l.size, l.size*1.05
	if l.tail != "" {
		w += wide(" "+l.tail, l.size, false)
	}
	reach := l.clear + w + rings*h
	within := func(boxes []box) []box {
		return slices.DeleteFunc(slices.Clone(boxes), func(b box) bool { return b.from(l.at) > reach })
	}
	hard, soft = within(hard), within(soft)
	step := 0.3
	if !l.bold {
		step = 0.4 // what is not the picture's matter keeps close
	}
	best, least := box{}, math.Inf(1)
	for ring := range rings {
		r := l.clear + float64(ring)*h*0.7
		for turn := range 24 {
			sin, cos := math.Sincos(float64(turn) * math.Pi / 12) // from the right, clockwise
			x, y := l.at.X+(r+w/2)*cos, l.at.Y+(r+h/2)*sin
			spot := box{x - w/2, y - h/2, x + w/2, y + h/2}
			cost := step*float64(ring) + 0.1*(1-math.Abs(cos)) + 0.02*(1-cos)
			cost += 60 * (w*h - spot.overlap(bounds)) / (w * h)
			for _, b := range hard {
				cost += 60 * spot.overlap(b) / (l.size * l.size)
			}
			for _, b := range soft {
				cost += 0.6 * spot.overlap(b) / ((b.x1 - b.x0) * (b.y1 - b.y0))
			}
			if cost >= least {
				continue
			}
			own := spot.from(l.at)
			for i := range all {
				if spot.from(all[i].at) < own {
					cost += 0.5
					break
				}
			}
			if from, to := l.leader(spot); from != to { // which must not seem to come from another
				for i := 1; i < 8; i++ {
					p := Point{from.X + (to.X-from.X)*float64(i)/8, from.Y + (to.Y-from.Y)*float64(i)/8}
					for _, b := range hard {
						if p.X > b.x0 && p.X < b.x1 && p.Y > b.y0 && p.Y < b.y1 && !(l.at.X > b.x0 && l.at.X < b.x1 && l.at.Y > b.y0 && l.at.Y < b.y1) {
							cost += 0.5
						}
					}
				}
			}
			if cost < least-1e-9 {
				best, least = spot, cost
			}
		}
	}
	return best
}
