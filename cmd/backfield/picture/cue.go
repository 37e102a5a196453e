package picture

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/field"
	"backfield/layout/source"
)

// Cue draws the field at one cue of a compiled show. Each player is the mark of the section. Open mics are
// dark, with name, level, a ring for the role, and a line to where the sound will seem to come from. Arrows are the
// paths to the next snapshot. A caption is above the field, a legend below. The error lists the cues that exist.
func Cue(s *show.Loaded, id string, look Look) (*Drawing, error) {
	i := slices.IndexFunc(s.Show.Cues, func(c cue.Snapshot) bool { return c.ID == id })
	if i < 0 {
		var ids []string
		for _, c := range s.Show.Cues {
			ids = append(ids, c.ID)
		}
		return nil, fmt.Errorf("no cue %q; %s", id, source.DidYouMean(id, ids, source.OneOfOr(ids, cue.NoCues)))
	}
	sc := read(s, i)
	var places []layout.Point
	for _, p := range sc.people {
		places = append(places, p.path...)
	}
	f := look.frame(s.Rig, places)
	d := look.drawing(sc.title(), f)
	sc.d, sc.frame = d, f
	sc.draw(look.Bare)
	return d, nil
}

// cueScene is one snapshot with what its picture needs.
type cueScene struct {
	s      *show.Loaded
	at     int // index of the snapshot
	now    *cue.Snapshot
	next   *cue.Snapshot // nil for the last
	before *cue.Snapshot // nil for the first
	people []person
	fixed  []cue.Channel
	roles  []string // roles of worn mics in the show, the loudest first

	d     *Drawing
	frame Frame
}

// person is one player and the path until the next snapshot, which begins at the player's place.
type person struct {
	name    string
	section int // index into Sections, -1 for none
	path    []layout.Point
	mic     *cue.Channel // the mic that the player wears, open or closed; nil for none
}

func (p *person) open() bool { return p.mic != nil && p.mic.Open }

func (p *person) walks() bool { return len(p.path) > 1 }

func read(s *show.Loaded, i int) *cueScene {
	sc := &cueScene{s: s, at: i, now: &s.Show.Cues[i]}
	if i > 0 {
		sc.before = &s.Show.Cues[i-1]
	}
	from, to := moment(sc.now), s.Clock.End()
	if i+1 < len(s.Show.Cues) {
		sc.next = &s.Show.Cues[i+1]
		to = moment(sc.next)
	}
	mics := map[string]*cue.Channel{}
	for j := range sc.now.Channels {
		c := &sc.now.Channels[j]
		if c.Kind == cue.Fixed {
			sc.fixed = append(sc.fixed, *c)
		} else if mics[c.Player] == nil || c.Open {
			mics[c.Player] = c
		}
	}
	sections := Sections(s)
	for j := range s.Drill.Players {
		p := &s.Drill.Players[j]
		path := Path(s.Drill, p, from, to)
		if len(path) == 0 {
			continue
		}
		who, _ := s.Roster.Player(p.Name)
		sc.people = append(sc.people, person{p.Name, slices.Index(sections, who.Section), path, mics[p.Name]})
	}
	sc.roles = roles(s)
	return sc
}

func moment(c *cue.Snapshot) clock.Moment {
	return clock.Moment{Movement: c.Movement, Elapsed: c.Count - 1}
}

// Path lists the corners of a player's path from one moment to another, in meters. It is a single place for a player
// who stands still, and empty if the player has no dots.
func Path(d *drill.Drill, p *drill.Marcher, from, to clock.Moment) []layout.Point {
	moments := []clock.Moment{from}
	for _, s := range d.Sets {
		for _, counts := range []int{s.Begin, s.Arrive} {
			if m := (clock.Moment{Movement: s.Movement, Elapsed: float64(counts)}); from.Before(m) && m.Before(to) {
				moments = append(moments, m)
			}
		}
	}
	var path []layout.Point
	for _, m := range append(moments, to) {
		place, ok := p.At(d, m.Movement, m.Elapsed)
		if !ok {
			return nil
		}
		if n := len(path); n == 0 || field.Steps(path[n-1], place) > 0.05 {
			path = append(path, place)
		}
	}
	return path
}

// roles lists the roles of worn mics in the whole show, the loudest first.
func roles(s *show.Loaded) []string {
	used := map[string]bool{}
	for _, c := range s.Show.Cues {
		for _, ch := range c.Channels {
			if ch.Open && ch.Kind == cue.Worn {
				used[ch.Role] = true
			}
		}
	}
	all := slices.Clone(s.Score.Roles)
	sort.SliceStable(all, func(i, j int) bool { return all[i].LevelDB > all[j].LevelDB })
	var names []string
	for _, r := range all {
		if used[r.Name] {
			names = append(names, r.Name)
		}
	}
	return names
}

func (sc *cueScene) rank(c *cue.Channel) int { return max(slices.Index(sc.roles, c.Role), 0) }

func (sc *cueScene) title() string {
	return strings.TrimSpace("cue " + sc.now.ID + "  " + sc.now.Name)
}

// Sizes on paper, in millimeters.
const (
	playerMM    = 0.85 // half a mark's size
	openMM      = 1.25
	labelMM     = 2.5
	nameMM      = 26 // the widest name next to a mark
	smallMM     = 2.4
	textMM      = 2.7
	finePrintMM = 2.0
	headMM      = 4.6
	edgeMM      = 2.0
)

// fixedFarM is how far from a fixed mic its image must be to get a line. Closer ones are heard where they are.
const fixedFarM = 2.5

func (sc *cueScene) draw(bare bool) {
	d := sc.d
	d.field(sc.s.Rig, sc.frame)
	for i := range sc.people {
		if p := &sc.people[i]; !p.open() && p.walks() {
			d.walk(p.path, d.mm(playerMM), Middle, d.mm(0.14), d.mm(1.1))
		}
	}
	for i := range sc.people {
		if p := &sc.people[i]; !p.open() {
			d.player(at(p.path[0]), p.section, p.mic != nil)
		}
	}
	for i := range sc.fixed {
		c := &sc.fixed[i]
		if image, ok := Image(sc.s, *c); ok && math.Hypot(image.X-c.X, image.Y-c.Y) > fixedFarM {
			sc.ray(c, XY{c.X, -c.Y}, len(ranks)-1)
		}
	}
	for i := range sc.people {
		if p := &sc.people[i]; p.open() {
			sc.ray(p.mic, at(p.path[0]), sc.rank(p.mic))
		}
	}
	for i := range sc.people {
		if p := &sc.people[i]; p.open() && p.walks() {
			d.walk(p.path, d.mm(openMM), Dark, d.mm(0.3), d.mm(1.7))
		}
	}
	for i := range sc.people {
		if p := &sc.people[i]; p.open() {
			d.open(at(p.path[0]), p.section, sc.rank(p.mic))
		}
	}
	for _, k := range sc.s.Rig.Stacks {
		d.stack(k)
	}
	for i := range sc.fixed {
		if c := &sc.fixed[i]; c.Open {
			d.micStand(XY{c.X, -c.Y}, true)
		}
	}
	sc.labels()
	if !bare {
		sc.caption()
		sc.legend()
	}
}

// player draws a player who is not open: hollow, with a darker edge for a closed mic.
func (d *Drawing) player(p XY, section int, mic bool) {
	ink, width := Middle, d.mm(0.2)
	if mic {
		ink, width = Dark, d.mm(0.32)
	}
	d.area("player", Paper, ink, width, around(p, d.mm(playerMM), outline(section))...)
}

// outline is the mark of a section, or a small disk for a player without a section.
func outline(section int) []XY {
	if section < 0 {
		return turned(12, 0, 0.5)
	}
	return Mark(section)
}

// open draws an open player: dark, on a disk of paper, with the ring of the role.
func (d *Drawing) open(p XY, section, rank int) {
	r := d.mm(ringMM)
	d.area("open", Paper, NoInk, 0, around(p, r+d.mm(0.2), turned(24, 0, 1))...)
	d.area("open", Dark, Dark, d.mm(0.1), around(p, d.mm(openMM), outline(section))...)
	d.ring(p, rank)
}

const ringMM = 1.95

// ranks are the signs of the roles, from the loudest down: rings that differ by weight and by their gaps, and lines to
// the image that differ by weight.
var ranks = []struct {
	rings  []float64    // radii in mm
	weight float64      // of the ring, in mm
	arcs   [][2]float64 // degrees from the top; nil for a full circle
	ray    float64      // weight of the line to the image, in mm
	dash   float64      // its dashes, in mm
}{
	{rings: []float64{ringMM, ringMM + 0.7}, weight: 0.32, ray: 0.6},
	{rings: []float64{ringMM}, weight: 0.55, ray: 0.45},
	{rings: []float64{ringMM}, weight: 0.22, ray: 0.3},
	{
		rings: []float64{ringMM}, weight: 0.4, arcs: [][2]float64{{-35, 35}, {55, 125}, {145, 215}, {235, 305}},
		ray: 0.3, dash: 1.6,
	},
	{rings: []float64{ringMM}, weight: 0.4, arcs: [][2]float64{{50, 130}, {230, 310}}, ray: 0.25, dash: 0.8},
	{rings: []float64{ringMM}, weight: 0.4, arcs: [][2]float64{{-40, 40}, {140, 220}}, ray: 0.2, dash: 0.5},
	{rings: []float64{ringMM}, weight: 0.4, arcs: [][2]float64{{130, 230}}, ray: 0.15, dash: 0.5},
}

func (d *Drawing) ring(p XY, rank int) {
	k := ranks[min(rank, len(ranks)-1)]
	for _, r := range k.rings {
		if k.arcs == nil {
			d.area("role", NoInk, Dark, d.mm(k.weight), around(p, d.mm(r), turned(28, 0, 1))...)
		}
		for _, a := range k.arcs {
			d.line("role", Dark, d.mm(k.weight), 0, arc(p, d.mm(r), a[0], a[1])...)
		}
	}
}

// ray draws the line from an open mic to where the sound will seem to come from, with a bead at its end.
func (sc *cueScene) ray(c *cue.Channel, from XY, rank int) {
	image, ok := Image(sc.s, *c)
	if !ok {
		return
	}
	d, k, to := sc.d, ranks[min(rank, len(ranks)-1)], at(image)
	d.line("ray", Warm, d.mm(k.ray), d.mm(k.dash), from, to)
	d.area("ray", Warm, Paper, d.mm(0.15), around(to, d.mm(0.75), turned(12, 0, 1))...)
}

// walk draws a path with an arrow at its end. A path shorter than clear, the radius of the mark, is not drawn.
func (d *Drawing) walk(path []layout.Point, clear float64, ink Ink, width, head float64) {
	points := make([]XY, len(path))
	for i, p := range path {
		points[i] = at(p)
	}
	n := len(points) - 1
	from, tip := points[n-1], points[n]
	long := math.Hypot(tip.X-from.X, tip.Y-from.Y)
	if n == 1 && long < clear {
		return
	}
	ux, uy := (tip.X-from.X)/long, (tip.Y-from.Y)/long
	head = min(head, long*0.8)
	foot := XY{tip.X - ux*head, tip.Y - uy*head}
	points[n] = foot
	d.line("walk", ink, width, 0, points...)
	left := XY{foot.X - uy*head*0.38, foot.Y + ux*head*0.38}
	right := XY{foot.X + uy*head*0.38, foot.Y - ux*head*0.38}
	d.area("walk", ink, NoInk, 0, tip, left, right)
}
