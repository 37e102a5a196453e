package score

import (
	"regexp"
	"slices"
	"strings"

	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// ScoreFile is show.toml: the keys as they are written.
type ScoreFile struct {
	Title   table.Text              `key:"title"`
	Drill   *drillTable             `key:"drill,required"`
	Roster  table.Text              `key:"roster,required"`
	Rig     table.Text              `key:"rig,required"`
	Mixer   table.Text              `key:"mixer,required,was=desk"`
	Venue   table.Text              `key:"venue"`
	Mix     *table.Map[roleValue]   `key:"mix"`
	Always  table.Map[[]table.Text] `key:"always"`
	Delay   delayTable              `key:"delay"`
	Pan     panTable                `key:"pan"`
	Zones   zonesTable              `key:"zones"`
	Check   checkTable              `key:"check"`
	MakeUp  *makeUpTable            `key:"make_up"`
	Balance balanceTable            `key:"balance"`
	Music   musicRootTable          `key:"music"`

	Instruments table.Map[instrumentTable] `key:"instruments"`

	Movement []movementTable `key:"movement,required"`
	Cue      []cueTable      `key:"cue"`
}

// FormerKey is about the tables of waypoints.
func (ScoreFile) FormerKey(_ *table.Node, name string, at source.Span) (source.Problem, bool) {
	return waypointsGone(at, name), isWaypoints(name)
}

// isWaypoints reports whether a key was that of waypoints, which paths have replaced.
func isWaypoints(key string) bool { return key == "waypoints" || key == "follow" }

// drillTable is [drill].
type drillTable struct {
	table.Where
	Sets    table.Text    `key:"sets"`
	Dots    table.Text    `key:"dots,required"`
	Columns *rows.Columns `key:"columns"`

	Words table.Map[table.Text] `key:"words"`
}

// Defaults and bounds.
const (
	defaultLeadMS  = 10
	defaultWidth   = 0.8
	defaultWindow  = 25 // ms
	defaultMargin  = 2  // ms
	defaultSlew    = 8  // ms a second: what a player who walks 2.7 m/s straight at the stands does
	leastSlew      = 3
	mostSlew       = 20
	defaultKnot    = 1 // ms
	mostKnot       = 5 // ms
	defaultPanKnot = 0.02
	mostPanKnot    = 0.2
	mostDipS       = 60
	longestBoxMS   = 200
	defaultAngle   = 6 // degrees
	slowestBPM     = 10
	fastestBPM     = 400
	longestCounts  = 100_000
	longestPauseS  = 3600
	loudestDB      = 60
	longestLeadMS  = 100
	longestFade    = 1000 // counts
	longestEarly   = 64   // counts
	mostCues       = 5000
	neutralBPM     = 120 // used for a tempo that could not be read
)

// Read reads the score. It is never nil, and as full as it could be made.
func Read(f *source.File, p *source.Problems) *Score {
	s := &Score{File: f}
	var t ScoreFile
	before := p.Errors()
	root := table.ReadTOML(f, p)
	if len(root.Fields) == 0 && p.Errors() > before {
		s.Partial, s.Roles = true, defaultRoles
		s.pickFiles()
		return s
	}
	table.Decode(root, &t, p)
	s.Title = t.Title.V
	if t.Drill != nil {
		s.readDrill(t.Drill, root.Get("drill"), p)
	}
	s.Roster, s.Rig, s.Mixer, s.Venue = t.Roster, t.Rig, t.Mixer, t.Venue
	s.readMix(&t, p)
	s.readCheck(t.Check, p)
	s.readBalance(&t.Balance, p)
	s.readParts(&t.Music)
	s.readInstruments(t.Instruments, p)
	for _, m := range t.Movement {
		s.Movements = append(s.Movements, movement(m, p))
	}
	s.readCues(t.Cue, p)
	return s
}

// readDrill takes the names of the sheets. That of the sets may be missing where the sheet of dots has them too.
func (s *Score) readDrill(t *drillTable, n *table.Node, p *source.Problems) {
	s.Sets, s.Dots, s.Columns, s.Words = t.Sets, t.Dots, t.Columns, t.Words
	s.Together = !s.Sets.Set && s.Columns != nil
	if n == nil { // the key is misspelt, which is reported already
		return
	}
	if n.Kind != table.Table || s.Columns != nil || n.Get("sets") != nil {
		return
	}
	misspelt := func(f table.NamedNode) bool { return source.Nearest(f.Name, []string{"sets"}) != "" }
	if !slices.ContainsFunc(n.Fields, misspelt) {
		p.Add(noSets(n.Span))
	}
}

// named finds a line's file names in a score that no parser takes.
var named = regexp.MustCompile(`(?m)^[^#"\n]*?\b(sets|dots|roster|rig|mixer|venue)[ \t]*=[ \t]*"([^"\\\n]+)"` +
	`(?:[ \t]*,[ \t]*(sets|dots)[ \t]*=[ \t]*"([^"\\\n]+)")?`)

// pickFiles finds the names of the other files in a score with a mistake in its syntax, so that what is wrong
// in them is reported at the same time.
func (s *Score) pickFiles() {
	into := map[string]*table.Text{"sets": &s.Sets, "dots": &s.Dots, "roster": &s.Roster, "rig": &s.Rig,
		"mixer": &s.Mixer, "venue": &s.Venue}
	for _, m := range named.FindAllStringSubmatchIndex(s.File.Text, -1) {
		for i := 2; i < len(m) && m[i] >= 0; i += 4 {
			key, name := s.File.Text[m[i]:m[i+1]], s.File.Text[m[i+2]:m[i+3]]
			if strings.Contains(s.File.Text, "drill.columns") && (key == "sets" || key == "dots") {
				continue // what they hold cannot be known without
			}
			if t := into[key]; !t.Set {
				*t = table.Text{V: name, Span: source.Span{File: s.File, Start: m[i+2] - 1, End: m[i+3] + 1}, Set: true}
			}
		}
	}
}
