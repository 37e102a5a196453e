package rig

import (
	"fmt"
	"math"
	"slices"

	"backfield/layout"
	"backfield/layout/field"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// File is rig.toml, and every venue file: the keys as they are written.
type File struct {
	Name      table.Text     `key:"name"`
	Field     fieldChoice    `key:"field"`
	Grid      table.Text     `key:"grid"`
	Latency   table.Quantity `key:"latency"`
	Air       table.Quantity `key:"air"`
	Feed      table.Text     `key:"feed"`
	Omit      []table.Text   `key:"omit"`
	Reference *seatTable     `key:"reference"`
	Seats     table.Text     `key:"seats"`
	Stand     []standTable   `key:"stand"`
	Stack     []stackTable   `key:"stack"`
	Mic       []micTable     `key:"mic"`
}

// fieldChoice is a rule book's name, or a field of one's own.
type fieldChoice struct {
	code table.Text
	own  *ownField
}

type ownField struct {
	table.Where
	Length  table.Quantity `key:"length,required"`
	EndZone table.Quantity `key:"end_zone"`
	Width   table.Quantity `key:"width,required"`
	Hash    table.Quantity `key:"hash,required"`
	Middle  table.Int      `key:"middle"`
}

func (c *fieldChoice) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Table {
		c.own = &ownField{}
		table.Decode(n, c.own, p)
		return
	}
	c.code.DecodeNode(n, p)
}

type placeTable struct {
	table.Where
	X table.Quantity `key:"x,required"`
	Y table.Quantity `key:"y,required"`
	Z table.Quantity `key:"z"`
}

type seatTable struct {
	table.Where
	X      table.Quantity `key:"x,required"`
	Y      table.Quantity `key:"y,required"`
	Z      table.Quantity `key:"z"`
	Weight table.Num      `key:"weight"`
}

// place is { x, y, z }, or a dot in the trade's words.
type place struct {
	dot table.Text
	xyz *placeTable
}

func (w *place) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Table {
		w.xyz = &placeTable{}
		table.Decode(n, w.xyz, p)
		return
	}
	w.dot.DecodeNode(n, p)
}

type standTable struct {
	table.Where
	Name    table.Text     `key:"name"`
	Front   rowTable       `key:"front,required"`
	Back    rowTable       `key:"back,required"`
	Rows    table.Int      `key:"rows,required"`
	Seats   table.Int      `key:"seats"`
	Spacing table.Quantity `key:"spacing"`
	Weight  table.Num      `key:"weight"`
}

type rowTable struct {
	X     table.Quantity `key:"x"`
	Y     table.Quantity `key:"y,required"`
	Z     table.Quantity `key:"z,required"`
	Width table.Quantity `key:"width,required"`
}

type stackTable struct {
	table.Where
	Name   table.Text     `key:"name,required"`
	At     place          `key:"at,required"`
	Height table.Quantity `key:"height"`
	Left   table.Num      `key:"left"`
	Right  table.Num      `key:"right"`
	Trim   table.Quantity `key:"trim"`
	Delay  table.Quantity `key:"delay"`
	Sub    table.Flag     `key:"sub"`
	Zone   table.Int      `key:"zone"`
}

type micTable struct {
	table.Where
	Name    table.Text     `key:"name,required"`
	Kind    table.Text     `key:"kind,required"`
	Channel table.Int      `key:"channel,required"`
	At      place          `key:"at,required"`
	Height  table.Quantity `key:"height"`
	Trim    table.Quantity `key:"trim"`
	Pan     table.Num      `key:"pan"`
	Delay   table.Quantity `key:"delay"`
}

// Kinds are the kinds of fixed mic.
var Kinds = []string{"field", "pit"}

// Bounds of what a rig may say, so that a slip of the pen is found here and not in a number.
const (
	farthestM    = 1000.0
	longestMS    = 1000.0
	loudestDB    = 60.0
	coldestC     = -40.0
	hottestC     = 60.0
	stackHeightM = 2.0
	micHeightM   = 1.0
	defaultAirC  = 20.0
	mostZones    = 64
	closestSeatM = 0.2
)

// Bounds of what a rig most likely is.
const (
	slowMS       = 50.0 // a mixer, its radio and its network take a few ms (common practice)
	ontoFieldM   = 0.5  // a stack's own depth
	narrowestDeg = 10.0 // between the outermost stacks, seen from the reference seat
)

// Read reads the rig with a venue laid over it, either of which may be nil. It is never nil, and as full as
// it could be made.
func Read(rig, venue *source.File, p *source.Problems) *Rig {
	r := &Rig{AirC: defaultAirC}
	r.Field, _ = field.ByCode("college")
	r.files = []*source.File{rig}
	if venue != nil {
		r.files = append(r.files, venue)
	}
	tree, ok := readTree(rig, p)
	over, overOK := readTree(venue, p)
	r.Partial = len(tree.Fields) == 0 || venue != nil && !overOK
	if !ok {
		checkVenue(over, p)
		return r
	}
	if venue != nil {
		var added []*table.Node
		tree, added = table.Overlay(tree, over, "stack", "mic")
		for _, n := range added {
			if name := n.Get("name"); name != nil {
				p.Add(venueAdds(name.Span, name.Text))
			}
		}
	}
	var f File
	table.Decode(tree, &f, p)
	r.fill(&f, rig, p)
	return r
}

// readTree reads a file that may be nil; ok is false where nothing could be read.
func readTree(f *source.File, p *source.Problems) (tree *table.Node, ok bool) {
	if f == nil {
		return &table.Node{Kind: table.Table}, false
	}
	before := p.Errors()
	tree = table.ReadTOML(f, p)
	return tree, len(tree.Fields) > 0 || p.Errors() == before
}

// checkVenue reports what is wrong in a venue whatever the rig under it says: not what the rig would give it.
func checkVenue(venue *table.Node, p *source.Problems) {
	var f File
	var all source.Problems
	table.Decode(venue, &f, &all)
	for _, x := range all.All() {
		if x.Code != "missing-key" {
			p.Add(x)
		}
	}
}

func (r *Rig) fill(f *File, file *source.File, p *source.Problems) {
	before := p.Errors()
	r.Name = f.Name.V
	r.readField(f, p)
	r.AirC = f.Air.Within(unit.Temperature, defaultAirC, coldestC, hottestC, "air", p)
	r.AirGiven = f.Air.Set
	r.LatencyS = f.Latency.Within(unit.Delay, 0, 0, longestMS, "latency", p) / 1000
	switch f.Feed.Or("stereo") {
	case "stereo":
	case "zones":
		r.Zones = true
	default:
		p.Add(unknownFeed(f.Feed))
	}
	if f.Reference == nil {
		p.Add(noReference(file))
	} else {
		t := f.Reference
		r.Reference = r.point(placeTable{X: t.X, Y: t.Y, Z: t.Z}, p)
		r.ReferenceWeight = seatWeight(t.Weight, 0, p)
	}
	r.SeatsFile = f.Seats
	for _, t := range f.Stand {
		r.Blocks = append(r.Blocks, r.stand(t, p))
	}
	for _, t := range f.Stack {
		r.Stacks = append(r.Stacks, r.stack(t, p))
	}
	for _, t := range f.Mic {
		r.Mics = append(r.Mics, r.mic(t, p))
	}
	r.checkNames(p)
	r.omit(f.Omit, p)
	r.checkZones(p)
	r.checkSize(file, p)
	if p.Errors() == before { // else a place may be another one than the file means
		r.checkPlaces(f, p)
	}
	if !slices.ContainsFunc(r.Stacks, func(k Stack) bool { return !k.Sub }) {
		p.Add(noStack(file))
	}
}

func (r *Rig) readField(f *File, p *source.Problems) {
	code := f.Field.code
	switch {
	case f.Field.own != nil:
		own := f.Field.own
		size := func(q table.Quantity, def float64, what string) float64 {
			return q.Within(unit.Length, def, 0, farthestM, what, p)
		}
		r.Field = field.Field{Code: "own", MiddleYard: own.Middle.Or(50), DepthStepM: unit.StepM,
			LengthM: size(own.Length, 0, "the field's length"), WidthM: size(own.Width, 0, "the field's width"),
			HashM: size(own.Hash, 0, "the hash"), EndZoneM: size(own.EndZone, 10*unit.YardM, "the end zone")}
		if own.Hash.Set && own.Width.Set && r.Field.HashM*2 > r.Field.WidthM {
			p.Add(hashesCross(own.Hash.Span))
		}
		if m := r.Field.MiddleYard; m < 5 || m > 200 || m%5 != 0 {
			p.Add(badMiddleYard(own.Middle.Span, m))
			r.Field.MiddleYard = 50
		}
	case code.Set:
		ground, ok := field.ByCode(code.V)
		if !ok {
			p.Add(unknownField(code.Span, code.V))
			break
		}
		r.Field = ground
	}
	switch f.Grid.Or("true") {
	case "true":
	case "28":
		r.Field = r.Field.Grid28()
	default:
		p.Add(unknownGrid(f.Grid))
	}
}

func (r *Rig) point(t placeTable, p *source.Problems) layout.Point {
	depth := unit.LengthIn("m", r.Field.DepthStepM)
	return layout.Point{
		X: t.X.Within(unit.Length, 0, -farthestM, farthestM, "x", p),
		Y: t.Y.Within(depth, 0, -farthestM, farthestM, "y", p),
		Z: t.Z.Within(unit.Length, 0, -10, farthestM, "z", p),
	}
}

// at reads a place, in words or as x, y, z; a place in words takes its height from the key of that name.
func (r *Rig) at(w place, height table.Quantity, defHeightM float64, p *source.Problems) (at layout.Point, words string) {
	switch {
	case w.xyz != nil:
		at = r.point(*w.xyz, p)
		words = fmt.Sprintf("x %.2f, y %.2f, z %.2f m", at.X, at.Y, at.Z)
		switch {
		case height.Set && !w.xyz.Z.Set:
			at.Z = height.Within(unit.Length, defHeightM, 0, 100, "height", p)
		case height.Set && height.Span.File == w.xyz.Z.Span.File: // a venue's place beats the rig's height
			p.Add(twoHeights(height.Span))
		}
	case w.dot.Set:
		x, y, fault := r.Field.ReadDot(w.dot.V)
		if fault != nil {
			p.Add(badDot(w.dot, fault))
		}
		at = layout.Point{X: x, Y: y, Z: height.Within(unit.Length, defHeightM, 0, 100, "height", p)}
		words = w.dot.V
	}
	return at, words
}

func (r *Rig) stand(t standTable, p *source.Problems) stand.Block {
	b := stand.Block{Name: t.Name.V, Front: r.row(t.Front, p), Back: r.row(t.Back, p), Rows: t.Rows.V, Seats: t.Seats.V, Weight: seatWeight(t.Weight, 1, p)}
	b.SpacingM = t.Spacing.Within(unit.Length, 0, closestSeatM, 100, "the spacing of seats", p)
	switch {
	case t.Seats.Set == t.Spacing.Set:
		p.Add(seatsAndSpacing(t.Span))
		b.Rows = 0
	case t.Rows.Set && (b.Rows < 1 || b.Rows > stand.Limit):
		p.Add(badRows(t.Rows.Span, b.Rows))
		b.Rows = 0
	case t.Seats.Set && (b.Seats < 1 || b.Seats > stand.Limit):
		p.Add(badSeats(t.Seats.Span, b.Seats))
		b.Rows = 0
	case t.Spacing.Set && b.SpacingM == 0:
		b.Rows = 0 // reported
	}
	return b
}

func seatWeight(n table.Num, def float64, p *source.Problems) float64 {
	if n.Set && !(n.V >= 0 && n.V <= 1e6) {
		p.Add(badSeatWeight(n.Span, n.V))
		return def
	}
	return n.Or(def)
}

func (r *Rig) row(t rowTable, p *source.Problems) stand.Row {
	at := r.point(placeTable{X: t.X, Y: t.Y, Z: t.Z}, p)
	return stand.Row{X: at.X, Y: at.Y, Z: at.Z, WidthM: t.Width.Within(unit.Length, 0, 0, farthestM, "width", p)}
}

// checkSize holds the stand to the number of seats that is computed with.
func (r *Rig) checkSize(file *source.File, p *source.Problems) {
	n := 0
	for _, b := range r.Blocks {
		n += b.Size()
	}
	if n > stand.Limit {
		p.Add(tooManySeats(file, n))
		r.Blocks = nil
	}
}

// checkZones sees that each stack of a rig with zones hangs on a bus of its own.
func (r *Rig) checkZones(p *source.Problems) {
	if !r.Zones {
		return
	}
	for _, m := range r.Mics {
		if m.Pan != nil {
			p.Add(panUnused(m.Span, m.Name))
		}
	}
	first := map[int]Stack{}
	for _, k := range r.Stacks {
		switch other, taken := first[k.Zone]; {
		case k.Sub:
		case k.Zone == 0 && k.ZoneAt.File == nil:
			p.Add(noZone(k.Span, k.Name))
		case k.Zone == 0: // reported
		case taken:
			p.Add(zoneTwice(other, k))
		default:
			first[k.Zone] = k
		}
	}
}

func (r *Rig) stack(t stackTable, p *source.Problems) Stack {
	k := Stack{Name: t.Name.V, Span: t.Name.Span, Sub: t.Sub.V}
	k.At, _ = r.at(t.At, t.Height, stackHeightM, p)
	k.TrimDB = t.Trim.Within(unit.Level, 0, -loudestDB, loudestDB, "trim", p)
	k.DelayS = t.Delay.Within(unit.Delay, 0, 0, longestMS, "delay", p) / 1000
	k.Zone, k.ZoneAt = t.Zone.V, t.Zone.Span
	if t.Zone.Set && (k.Zone < 1 || k.Zone > mostZones) {
		p.Add(badZone(t.Zone.Span, k.Zone))
		k.Zone = 0
	}
	before := p.Errors()
	k.Left, k.Right = r.weight(t.Left, p), r.weight(t.Right, p)
	if !t.Left.Set && !t.Right.Set {
		k.Left, k.Right = sideOf(k.At.X)
	}
	if k.Left == 0 && k.Right == 0 && t.Name.Set && p.Errors() == before {
		p.Add(silentStack(t.Name.Span, k.Name))
	}
	return k
}

// sideOf is what a stack carries when the rig does not say: the side it stands on, or both at the 50.
func sideOf(x float64) (left, right float64) {
	switch {
	case x < -0.5:
		return 1, 0
	case x > 0.5:
		return 0, 1
	}
	return math.Sqrt2 / 2, math.Sqrt2 / 2
}

func (r *Rig) weight(n table.Num, p *source.Problems) float64 {
	if n.Set && (n.V < 0 || n.V > 1) {
		p.Add(badStackWeight(n.Span, n.V))
		return 0
	}
	return n.V
}

func (r *Rig) mic(t micTable, p *source.Problems) Mic {
	m := Mic{Name: t.Name.V, Span: t.Name.Span, Kind: t.Kind.V, Channel: t.Channel.V}
	m.At, m.Words = r.at(t.At, t.Height, micHeightM, p)
	m.TrimDB = t.Trim.Within(unit.Level, 0, -loudestDB, loudestDB, "trim", p)
	if t.Channel.Set && m.Channel < 1 {
		p.Add(badChannel(t.Channel.Span, m.Channel))
	}
	if t.Kind.Set && !slices.Contains(Kinds, m.Kind) {
		p.Add(unknownKind(t.Kind.Span, m.Kind))
	}
	if t.Pan.Set {
		if math.Abs(t.Pan.V) > 1 {
			p.Add(badPan(t.Pan))
		}
		m.Pan = &t.Pan.V
	}
	if t.Delay.Set {
		ms := t.Delay.Within(unit.Delay, 0, 0, longestMS, "delay", p)
		m.DelayMS = &ms
	}
	return m
}

// checkPlaces warns of what can be built so and most likely was not: places on the wrong side of the front
// sideline, a latency out of all custom, stacks that no image can be panned between.
func (r *Rig) checkPlaces(f *File, p *source.Problems) {
	misplaced := false
	if f.Latency.Set && r.LatencyS*1000 > slowMS {
		p.Add(longLatency(f.Latency.Span, r.LatencyS))
	}
	if f.Reference != nil && f.Reference.Y.Set && r.Reference.Y >= 0 {
		p.Add(referenceOnField(f.Reference.Y.Span, r.Reference.Y))
		misplaced = true
	}
	for i, b := range r.Blocks {
		if y := max(b.Front.Y, b.Back.Y); y >= 0 && b.Rows > 0 {
			p.Add(standOnField(f.Stand[i].Span, y))
		}
	}
	for _, k := range r.Stacks {
		if k.At.Y > ontoFieldM {
			misplaced = true
			p.Add(stackOnField(k))
		}
	}
	spoken := r.Spoken()
	if r.Zones || f.Reference == nil || len(spoken) < 2 || misplaced {
		return
	}
	t := r.System(sound.ConstantPower).TangentPan(layout.Point{}, r.Reference)
	if span := 2 * t.Half * 180 / math.Pi; t.Note != "" || span < narrowestDeg {
		p.Add(narrowStacks(spoken[t.LeftStack].Span, span))
	}
}

func (r *Rig) checkNames(p *source.Problems) {
	seen := map[string]source.Span{}
	check := func(kind, name string, at source.Span) {
		if name == "" {
			return
		}
		if first, twice := seen[kind+name]; twice {
			p.Add(nameTwice(at, kind, name, first))
			return
		}
		seen[kind+name] = at
	}
	for _, k := range r.Stacks {
		check("stack", k.Name, k.Span)
	}
	for _, m := range r.Mics {
		check("mic", m.Name, m.Span)
	}
}

// omit takes out what a venue says it does not set up.
func (r *Rig) omit(names []table.Text, p *source.Problems) {
	for _, n := range names {
		if !n.Set {
			continue
		}
		before := len(r.Stacks) + len(r.Mics)
		known := r.names()
		r.Stacks = slices.DeleteFunc(r.Stacks, func(k Stack) bool { return k.Name == n.V })
		r.Mics = slices.DeleteFunc(r.Mics, func(m Mic) bool { return m.Name == n.V })
		if len(r.Stacks)+len(r.Mics) == before {
			p.Add(unknownName(n.Span, n.V, known))
		}
	}
}

func (r *Rig) names() []string {
	var names []string
	for _, k := range r.Stacks {
		names = append(names, k.Name)
	}
	for _, m := range r.Mics {
		names = append(names, m.Name)
	}
	return names
}
