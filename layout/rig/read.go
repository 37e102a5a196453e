package rig

import (
	"slices"

	"backfield/layout/field"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// RigFile is rig.toml, and every venue file: the keys as they are written.
type RigFile struct {
	Name      table.Text      `key:"name"`
	Field     fieldChoice     `key:"field"`
	Grid      gridChoice      `key:"grid"`
	Latency   latencyValue    `key:"latency"`
	Air       table.Quantity  `key:"air"`
	Feed      feedChoice      `key:"feed"`
	Omit      []table.Text    `key:"omit"`
	Reference *referenceTable `key:"reference"`
	Seats     table.Text      `key:"seats"`
	Stands    []standsTable   `key:"stands,was=stand"`
	Stack     []stackTable    `key:"stack,named"`
	Mic       []micTable      `key:"mic,named"`
	People    []peopleTable   `key:"people"`
	Humidity  table.Num       `key:"humidity"`
	BellUp    table.Num       `key:"bell_up"`
	Levels    LevelsTable     `key:"levels"`
}

// latencyValue is one delay for all sources, or a table with one for each kind.
type latencyValue struct {
	all    table.Quantity
	byKind *latencyTable
}

// latencyTable is the latency of each kind of source.
type latencyTable struct {
	Worn  table.Quantity `key:"worn,required"`
	Wired table.Quantity `key:"wired"`
	Line  table.Quantity `key:"line"`
}

// DecodeNode reads a delay or the table.
func (v *latencyValue) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.Table {
		v.byKind = &latencyTable{}
		table.Decode(n, v.byKind, p)
		return
	}
	v.all.DecodeNode(n, p)
}

// read takes the latencies into the rig. In a table, what is not written is 0.
func (v *latencyValue) read(r *Rig, p *source.Problems) {
	seconds := func(q table.Quantity, what string) float64 {
		return q.Within(unit.Delay, 0, 0, longestMS, what, p) / 1000
	}
	if t := v.byKind; t != nil {
		r.LatencyS, r.LatencyAt = seconds(t.Worn, "latency"), t.Worn.Span
		r.WiredS, r.LineS = seconds(t.Wired, "latency"), seconds(t.Line, "latency")
		return
	}
	r.LatencyS, r.LatencyAt = seconds(v.all, "latency"), v.all.Span
	r.WiredS, r.LineS = r.LatencyS, r.LatencyS
}

// feedChoice is how the stacks are fed.
type feedChoice struct{ table.Text }

// Words are the ways to feed them.
func (feedChoice) Words() []string { return []string{"stereo", "zones"} }

// Bounds of what a rig may say, so that a typing mistake is found here and not in a number.
const (
	farthestM   = 1000.0
	leastWidthM = 0.1 // of a row of seats
	longestMS   = 1000.0
	loudestDB   = 60.0
	coldestC    = -40.0
	hottestC    = 60.0
	defaultAirC = 20.0
)

// Read reads the rig with a venue laid over it, either of which may be nil. It is never nil, and as full as
// it could be made.
func Read(rig, venue *source.File, p *source.Problems) *Rig { return ReadNight(rig, venue, nil, p) }

// ReadNight is Read with some keys of one night laid over both; nil for none.
func ReadNight(rig, venue *source.File, night *table.Node, p *source.Problems) *Rig {
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
	var f RigFile
	if venue != nil {
		var added []*table.Node
		// Readings at the rig's own place say nothing about a venue.
		tree, added = table.Overlay(tree.Without("levels"), over, f)
		for _, n := range added {
			if name := n.Get("name"); name != nil {
				p.Add(venueAdds(name.Span, name.Text))
			}
		}
	}
	if night != nil {
		tree, _ = table.Overlay(tree, night, f)
	}
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
	var f RigFile
	var all source.Problems
	table.Decode(venue, &f, &all)
	for _, x := range all.All() {
		if x.Code != "missing-key" {
			p.Add(x)
		}
	}
}

// fill takes the rig out of its keys, and reports what does not go together.
func (r *Rig) fill(f *RigFile, file *source.File, p *source.Problems) {
	before := p.Errors()
	r.Name = f.Name.V
	r.readField(f, p)
	r.AirC, r.AirGiven = defaultAirC, f.Air.Set
	if doubt := unit.AirInDoubt(f.Air.Parts); doubt != nil {
		p.Add(airInDoubt(f.Air.Span, doubt))
	} else {
		r.AirC = f.Air.Within(unit.Temperature, defaultAirC, coldestC, hottestC, "air", p)
	}
	r.HumidityPct = within(f.Humidity, defaultHumidityPct, 1, 100, "humidity", "%", p)
	r.BellUpDeg = within(f.BellUp, defaultBellUpDeg, -30, 60, "bell_up", "degrees", p)
	r.readLevels(&f.Levels, p)
	f.Latency.read(r, p)
	switch f.Feed.Or("stereo") {
	case "stereo":
	case "zones":
		r.Zones = true
	default:
		p.Add(unknownFeed(f.Feed.Text))
	}
	r.readReference(f.Reference, file, p)
	r.SeatsFile = f.Seats
	for _, t := range f.Stands {
		r.Blocks = append(r.Blocks, r.block(t, p))
	}
	for _, t := range f.Stack {
		r.Stacks = append(r.Stacks, r.stack(t, p))
	}
	for _, t := range f.Mic {
		r.Mics = append(r.Mics, r.mic(t, p))
	}
	for _, t := range f.People {
		r.People = append(r.People, r.people(t, p))
	}
	r.checkNames(p)
	r.omit(f.Omit, p)
	r.checkZones(p)
	r.checkSize(file, p)
	r.checkPlaces(f, p.Errors() == before, p)
	if !slices.ContainsFunc(r.Stacks, func(k Stack) bool { return !k.Sub }) {
		p.Add(noStack(file))
	}
}
