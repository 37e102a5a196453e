package score

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/layout/drill"
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// File is show.toml: the keys as they are written.
type File struct {
	Title    table.Text              `key:"title"`
	Drill    *drillTable             `key:"drill,required"`
	Roster   table.Text              `key:"roster,required"`
	Rig      table.Text              `key:"rig,required"`
	Desk     table.Text              `key:"desk,required"`
	Venue    table.Text              `key:"venue"`
	Mix      *table.Map[roleValue]   `key:"mix"`
	Always   table.Map[[]table.Text] `key:"always"`
	Delay    delayTable              `key:"delay"`
	Pan      panTable                `key:"pan"`
	Follow   followTable             `key:"follow"`
	Zones    zonesTable              `key:"zones"`
	Check    checkTable              `key:"check"`
	MakeUp   *makeUpTable            `key:"make_up"`
	Movement []movementTable         `key:"movement,required"`
	Cue      []cueTable              `key:"cue"`
}

type drillTable struct {
	table.Where
	Sets    table.Text     `key:"sets"`
	Dots    table.Text     `key:"dots,required"`
	Columns *drill.Columns `key:"columns"`
}

type delayTable struct {
	Policy table.Text     `key:"policy"`
	Lead   table.Quantity `key:"lead"`
	Window table.Quantity `key:"window"`
	Free   table.Flag     `key:"free"`
}

type panTable struct {
	Width table.Num  `key:"width"`
	By    table.Text `key:"by"`
	Angle table.Num  `key:"angle"`
}

type followTable struct {
	On    table.Flag     `key:"on"`
	Drift table.Quantity `key:"drift"`
	Pan   table.Num      `key:"pan"`
	Angle table.Num      `key:"angle"`
}

type checkTable struct {
	Allow     []table.Text   `key:"allow"`
	NearStack table.Quantity `key:"near_stack"`
	MostOpen  table.Int      `key:"most_open"`
	Settle    table.Quantity `key:"settle"`
	Press     table.Quantity `key:"press"`
	Handover  table.Quantity `key:"handover"`
	Loud      *[]table.Text  `key:"loud"`
	Pickup    table.Quantity `key:"pickup"`
	Uneven    table.Quantity `key:"uneven"`
	Masked    table.Quantity `key:"masked"`
	Fit       table.Num      `key:"fit"`
}

type zonesTable struct {
	Most table.Int `key:"most"`
}

type makeUpTable struct {
	From table.Quantity `key:"from,required"`
	Max  table.Quantity `key:"max,required"`
}

type movementTable struct {
	table.Where
	Name   table.Text     `key:"name"`
	Counts table.Int      `key:"counts"`
	Wait   table.Quantity `key:"wait"`
	Tempo  tempoValue     `key:"tempo,required"`
}

type changeTable struct {
	table.Where
	At    table.Num      `key:"at,required"`
	BPM   table.Num      `key:"bpm"`
	Over  counts         `key:"over"`
	Pause table.Quantity `key:"pause"`
}

type cueTable struct {
	table.Where
	ID    table.Text                `key:"id,required"`
	At    given                     `key:"at"`
	After length                    `key:"after"`
	Name  table.Text                `key:"name"`
	Open  table.Map[[]table.Text]   `key:"open"`
	Close []table.Text              `key:"close"`
	Keep  table.Flag                `key:"keep"`
	Fade  counts                    `key:"fade"`
	Nudge table.Map[table.Quantity] `key:"nudge"`

	Param table.Map[table.Map[table.Setting]] `key:"param"`
	Also  []rawTable                          `key:"also"`

	Policy table.Text   `key:"policy"`
	Follow table.Flag   `key:"follow"`
	Allow  []table.Text `key:"allow"`
}

// given is a text that may be left out, and may be there and be none.
type given struct {
	table.Text
	There bool
}

func (g *given) DecodeNode(n *table.Node, p *source.Problems) {
	g.There = true
	g.Text.DecodeNode(n, p)
}

// length is a number of counts that may be left out, and may be there and be none.
type length struct {
	counts
	There bool
}

func (l *length) DecodeNode(n *table.Node, p *source.Problems) {
	l.There = true
	l.counts.DecodeNode(n, p)
}

// roleValue is a level in dB, or a table with one.
type roleValue struct {
	table.Where
	level  table.Quantity
	policy table.Text
	params []Param
}

type roleTable struct {
	Level  table.Quantity           `key:"level,required"`
	Policy table.Text               `key:"policy"`
	Own    table.Map[table.Setting] `key:"*"`
}

func (v *roleValue) DecodeNode(n *table.Node, p *source.Problems) {
	v.Where = table.Where{Key: n.Key, Span: n.Span}
	if n.Kind == table.Table {
		var t roleTable
		table.Decode(n, &t, p)
		v.level, v.policy = t.Level, t.Policy
		for _, e := range t.Own.Entries {
			v.params = append(v.params, Param{Name: e.Name, Value: e.Value})
		}
		return
	}
	v.level.DecodeNode(n, p)
}

// tempoValue is one tempo in bpm, a list of changes, or a file of music.
type tempoValue struct {
	bpm   table.Num
	list  []changeTable
	music *musicTable
	span  source.Span
}

type musicTable struct {
	Music  table.Text   `key:"music,required"`
	Beat   table.Text   `key:"beat"`
	From   table.Text   `key:"from"`
	To     table.Text   `key:"to"`
	First  table.Int    `key:"first"`
	Pauses []pauseTable `key:"pauses"`
}

type pauseTable struct {
	table.Where
	At    pauseAt        `key:"at,required"`
	Pause table.Quantity `key:"pause,required"`
}

// pauseAt is a count, or a measure or a mark.
type pauseAt struct {
	count table.Num
	text  table.Text
}

func (v *pauseAt) DecodeNode(n *table.Node, p *source.Problems) {
	if n.Kind == table.String {
		v.text.DecodeNode(n, p)
		return
	}
	v.count.DecodeNode(n, p)
}

func (v *tempoValue) DecodeNode(n *table.Node, p *source.Problems) {
	v.span = n.Span
	switch n.Kind {
	case table.String:
		if countsForm.MatchString(strings.TrimSuffix(strings.ToLower(n.Text), "bpm")) {
			p.Add(notMusic(n.Span, n.Text))
			return
		}
		v.music = &musicTable{}
		v.music.Music.DecodeNode(n, p)
		return
	case table.Table:
		v.music = &musicTable{}
		table.Decode(n, v.music, p)
		return
	}
	if n.Kind != table.Array {
		v.bpm.DecodeNode(n, p)
		return
	}
	for _, item := range n.Items {
		var c changeTable
		table.Decode(item, &c, p)
		v.list = append(v.list, c)
	}
}

// counts is a number of counts, 8 or "8 counts": a length in the music, which no unit of time can tell.
type counts struct{ table.Num }

var countsForm = regexp.MustCompile(`^\s*(\d{1,6}(?:\.\d{1,6})?)(?:\s*counts?)?\s*$`)

func (v *counts) DecodeNode(n *table.Node, p *source.Problems) {
	switch m := countsForm.FindStringSubmatch(n.Text); {
	case n.Kind == table.Number:
		v.Num.DecodeNode(n, p)
	case n.Kind == table.String && m != nil:
		v.V, _ = strconv.ParseFloat(m[1], 64)
		v.Span, v.Set = n.Span, true
	default:
		table.WrongType(n, `a number of counts, 8 or "8 counts"`, p)
	}
}

// Defaults and bounds.
const (
	defaultLeadMS = 10
	defaultWidth  = 0.8
	defaultWindow = 30
	defaultDrift  = 5 // ms
	defaultSwing  = 0.1
	defaultTurn   = 3 // degrees
	defaultAngle  = 6 // degrees
	slowestBPM    = 10
	fastestBPM    = 400
	longestCounts = 100_000
	longestPauseS = 3600
	loudestDB     = 60
	longestLeadMS = 100
	longestFade   = 1000 // counts
	mostCues      = 5000
	neutralBPM    = 120 // stands in for a tempo that could not be read
)

// defaultRoles hold when the score has no [mix].
var defaultRoles = []Role{{Name: "feature", LevelDB: 0}, {Name: "support", LevelDB: -9}}

// Read reads the score. It is never nil, and as full as it could be made.
func Read(f *source.File, p *source.Problems) *Score {
	s := &Score{File: f}
	var t File
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
		s.Sets, s.Dots, s.Columns = t.Drill.Sets, t.Drill.Dots, t.Drill.Columns
		s.Together = !s.Sets.Set && s.Columns != nil
		if n := root.Get("drill"); n.Kind == table.Table && s.Columns == nil && n.Get("sets") == nil && !slices.ContainsFunc(n.Fields, func(f table.Field) bool { return source.Nearest(f.Name, []string{"sets"}) != "" }) {
			p.Add(noSets(n.Span))
		}
	}
	s.Roster, s.Rig, s.Desk, s.Venue = t.Roster, t.Rig, t.Desk, t.Venue
	s.readMix(&t, p)
	for _, m := range t.Movement {
		s.Movements = append(s.Movements, movement(m, p))
	}
	s.readCues(t.Cue, p)
	return s
}

// named finds a line's file names in a score that no parser takes.
var named = regexp.MustCompile(`(?m)^[^#"\n]*?\b(sets|dots|roster|rig|desk|venue)[ \t]*=[ \t]*"([^"\\\n]+)"(?:[ \t]*,[ \t]*(sets|dots)[ \t]*=[ \t]*"([^"\\\n]+)")?`)

// pickFiles finds the names of the other files in a score with a mistake in its syntax, so that what is wrong
// in them is reported at the same time.
func (s *Score) pickFiles() {
	into := map[string]*table.Text{"sets": &s.Sets, "dots": &s.Dots, "roster": &s.Roster, "rig": &s.Rig, "desk": &s.Desk, "venue": &s.Venue}
	for _, m := range named.FindAllStringSubmatchIndex(s.File.Text, -1) {
		for i := 2; i < len(m) && m[i] >= 0; i += 4 {
			key, name := s.File.Text[m[i]:m[i+1]], s.File.Text[m[i+2]:m[i+3]]
			if strings.Contains(s.File.Text, "drill.columns") && (key == "sets" || key == "dots") {
				continue // what they hold cannot be told without
			}
			if t := into[key]; !t.Set {
				*t = table.Text{V: name, Span: source.Span{File: s.File, Start: m[i+2] - 1, End: m[i+3] + 1}, Set: true}
			}
		}
	}
}

func (s *Score) readMix(t *File, p *source.Problems) {
	if t.Mix == nil {
		s.Roles = defaultRoles
	} else {
		for _, e := range t.Mix.Entries {
			policy(e.Value.policy, p)
			s.Roles = append(s.Roles, Role{e.Name.V, e.Value.level.Within(unit.Level, 0, -100, loudestDB, "a role's level", p), e.Value.policy.V, e.Value.params, e.Name.Span})
		}
	}
	s.Always = openings(t.Always)
	s.Policy = policy(t.Delay.Policy, p)
	s.LeadMS = t.Delay.Lead.Within(unit.Delay, defaultLeadMS, 0, longestLeadMS, "lead", p)
	s.WindowMS = t.Delay.Window.Within(unit.Delay, defaultWindow, 1, 100, "the window", p)
	s.Free = t.Delay.Free.V
	s.readFollow(t, p)
	s.readCheck(t.Check, p)
	s.PanWidth = t.Pan.Width.Or(defaultWidth)
	if s.PanWidth < 0 || s.PanWidth > 1 {
		p.Add(badPanWidth(t.Pan.Width.Span, s.PanWidth))
		s.PanWidth = defaultWidth
	}
	if t.MakeUp != nil {
		s.MakeUp.FromM = t.MakeUp.From.Within(unit.Length, 1, 0.1, 1000, "the distance that make-up starts from", p)
		s.MakeUp.MaxDB = t.MakeUp.Max.Within(unit.Level, 0, 0, 20, "the most make-up", p)
	}
}

// policy holds the name of a policy to those that there are.
func policy(t table.Text, p *source.Problems) table.Text {
	if t.Set && !stand.CheckPolicy(t.V, t.Span, p) {
		return table.Text{}
	}
	return t
}

// readFollow reads what the follow-ons, the pan and the zones go by.
func (s *Score) readFollow(t *File, p *source.Problems) {
	s.Follow = Follow{
		On:       t.Follow.On.Or(true),
		DriftMS:  t.Follow.Drift.Within(unit.Delay, defaultDrift, 0.1, 100, "the drift that a follow-on is cut by", p),
		Pan:      bounded(t.Follow.Pan, defaultSwing, 0.005, 1, "the pan that a follow-on is cut by", p),
		AngleDeg: bounded(t.Follow.Angle, defaultTurn, 0.1, 90, "the angle that a follow-on is cut by, in degrees,", p),
	}
	s.JointDeg = bounded(t.Pan.Angle, defaultAngle, 0, 90, "the angle that joint may leave the true direction by, in degrees,", p)
	switch by := t.Pan.By.Or("tangent"); by {
	case "tangent":
	case "stand-fit":
		s.StandFit = true
	default:
		ways := []string{"tangent", "stand-fit"}
		p.Add(unknownPan(t.Pan.By.Span, by, ways))
	}
	s.ZonesMost = t.Zones.Most.Or(2)
	if s.ZonesMost != 1 && s.ZonesMost != 2 {
		p.Add(badZones(t.Zones.Most.Span, s.ZonesMost))
		s.ZonesMost = 2
	}
}

// readCheck reads the thresholds of the rules. The defaults are common practice, or the rule's own reason.
func (s *Score) readCheck(t checkTable, p *source.Problems) {
	s.Allow = t.Allow
	s.Rules = Rules{
		NearStackM: t.NearStack.Within(unit.Length, 3, 0, 50, "near_stack", p),
		MostOpen:   t.MostOpen.Or(24),
		SettleS:    t.Settle.Within(unit.Duration, 0.5, 0, 60, "settle", p),
		PressS:     t.Press.Within(unit.Duration, 1, 0, 60, "press", p),
		HandoverS:  t.Handover.Within(unit.Duration, 30, 0, 3600, "handover", p),
		Loud:       []string{"snare", "tenor", "bass", "cymbal", "battery", "percussion", "guard"},
		PickupM:    t.Pickup.Within(unit.Length, 5, 0, 50, "pickup", p),
		UnevenDB:   t.Uneven.Within(unit.Level, 6, 0, 60, "uneven", p),
		MaskedDB:   t.Masked.Within(unit.Level, 6, -60, 60, "masked", p),
		Fit:        bounded(t.Fit, 50, 0, 100, "fit", p) / 100,
	}
	if s.Rules.MostOpen < 1 {
		p.Add(badMostOpen(t.MostOpen.Span, s.Rules.MostOpen))
	}
	if t.Loud != nil {
		s.Rules.Loud = nil
		for _, name := range *t.Loud {
			s.Rules.Loud = append(s.Rules.Loud, name.V)
		}
	}
}

func bounded(n table.Num, def, lo, hi float64, what string, p *source.Problems) float64 {
	if n.Set && !(n.V >= lo && n.V <= hi) {
		p.Add(outOfBounds(n.Span, what, n.V, lo, hi))
		return def
	}
	return n.Or(def)
}

func openings(m table.Map[[]table.Text]) []Opening {
	var list []Opening
	for _, e := range m.Entries {
		list = append(list, Opening{e.Name, e.Value})
	}
	return list
}

func movement(t movementTable, p *source.Problems) Movement {
	m := Movement{Name: t.Name.V, Span: t.Span, Counts: t.Counts}
	m.WaitS = t.Wait.Within(unit.Duration, 0, 0, longestPauseS, "the wait before a movement", p)
	if m.Counts.Set && (m.Counts.V < 1 || m.Counts.V > longestCounts) {
		p.Add(badMovementCounts(m.Counts))
		m.Counts = table.Int{}
	}
	before := p.Errors()
	if t.Tempo.music != nil {
		m.File = musicFile(t.Tempo.music, p)
		m.Changes = []clock.Change{{At: 1, BPM: neutralBPM}} // until the file is read
		return m
	}
	if t.Tempo.list == nil {
		m.Changes = []clock.Change{{At: 1, BPM: bpm(t.Tempo.bpm, p)}}
	} else {
		m.Changes = changes(t.Tempo, p)
	}
	if p.Errors() > before || len(m.Changes) == 0 || !(m.Changes[0].BPM > 0) {
		m.Changes = []clock.Change{{At: 1, BPM: neutralBPM}}
	}
	return m
}

// musicFile reads where a movement's time comes from. What cannot be read of it is left out.
func musicFile(t *musicTable, p *source.Problems) *MusicFile {
	m := &MusicFile{Name: t.Music, Beat: t.Beat, First: t.First}
	place := func(text table.Text) (clock.Position, bool) {
		position, fault := clock.ParsePosition(text.V)
		if fault == nil && (!position.Musical() || position.Movement != 0) {
			fault = &source.Fault{What: fmt.Sprintf("%q is no place in this movement's music", text.V), Do: `write a measure or a mark, such as "m. 23 beat 3" or "mark C"`}
		}
		if fault != nil {
			p.Add(badPosition(text.Span, fault))
		}
		return position, fault == nil
	}
	for _, x := range []struct {
		text table.Text
		into *MusicPlace
	}{{t.From, &m.From}, {t.To, &m.To}} {
		if x.text.Set {
			if position, ok := place(x.text); ok {
				*x.into = MusicPlace{x.text, position}
			}
		}
	}
	if t.First.Set && (t.First.V < 0 || t.First.V > longestCounts) {
		p.Add(badFirstMeasure(t.First))
		m.First = table.Int{}
	}
	for _, x := range t.Pauses {
		pause := Pause{S: x.Pause.Within(unit.Duration, 0, 0, longestPauseS, "a pause", p), Count: x.At.count.V, Span: x.At.count.Span}
		switch {
		case x.At.text.Set:
			var ok bool
			if pause.Position, ok = place(x.At.text); !ok {
				continue
			}
			pause.Span = x.At.text.Span
		case !x.At.count.Set: // reported
			continue
		case pause.Count < 1 || pause.Count > longestCounts:
			p.Add(badPause(pause.Span, pause.Count))
			continue
		}
		m.Pauses = append(m.Pauses, pause)
	}
	return m
}

func bpm(n table.Num, p *source.Problems) float64 {
	if n.Set && !(n.V >= slowestBPM && n.V <= fastestBPM) {
		p.Add(badBPM(n.Span, n.V))
	}
	return n.V
}

func changes(v tempoValue, p *source.Problems) []clock.Change {
	var list []clock.Change
	end := 0.0 // of the last entry and its ramp, as a count
	for i, t := range v.list {
		c := clock.Change{At: t.At.V, BPM: bpm(t.BPM, p), Over: t.Over.V, PauseS: t.Pause.Within(unit.Duration, 0, 0, longestPauseS, "a pause", p)}
		switch {
		case !t.At.Set: // reported as missing
		case c.At < 1 || c.At > longestCounts:
			p.Add(badTempoCount(t.At.Span, c.At))
		case i == 0 && c.At != 1:
			p.Add(firstTempoLate(t.At.Span, c.At))
		case i > 0 && c.At < end:
			p.Add(tempoOverlaps(t.At.Span, c.At, end))
		case t.Over.Set && (c.Over <= 0 || c.Over > longestCounts):
			p.Add(badRamp(t.Over.Span, c.Over))
		case t.Over.Set && (!t.BPM.Set || i == 0):
			p.Add(rampToNowhere(t.Over.Span))
		case i == 0 && !t.BPM.Set:
			p.Add(firstTempoWithoutBPM(t.Span))
		case !t.BPM.Set && !t.Pause.Set:
			p.Add(emptyTempoEntry(t.Span))
		}
		end = math.Max(end, c.At+c.Over)
		list = append(list, c)
	}
	if len(list) == 0 {
		p.Add(noTempos(v.span))
	}
	return list
}

func (s *Score) readCues(list []cueTable, p *source.Problems) {
	first := map[string]source.Span{}
	if len(list) > mostCues {
		p.Add(tooManyCues(list[mostCues].Span))
		list = list[:mostCues]
	}
	for _, t := range list {
		c := Cue{ID: t.ID, At: t.At.Text, Name: t.Name, Span: t.Span, Open: openings(t.Open), Close: t.Close, Keep: t.Keep.V, FadeCounts: t.Fade.V,
			Policy: policy(t.Policy, p).V, Follow: t.Follow.Or(true), Allow: t.Allow}
		if t.ID.Set {
			switch {
			case t.ID.V == "" || t.ID.V != strings.TrimSpace(t.ID.V) || strings.ContainsAny(t.ID.V, ".\t\n\r/\\"):
				p.Add(badID(t.ID))
			case first[t.ID.V].File != nil:
				p.Add(idTwice(t.ID, first[t.ID.V]))
			default:
				first[t.ID.V] = t.ID.Span
			}
		}
		switch {
		case t.At.There && t.After.Set:
			p.Add(atAndAfter(t.After.Span))
		case t.After.Set && len(s.Cues) == 0:
			p.Add(firstCueAfter(t.After.Span))
		case t.After.Set:
			c.AfterCounts, c.Auto, c.At = t.After.V, true, table.Text{Span: t.After.Span}
			if !(c.AfterCounts > 0 && c.AfterCounts <= longestCounts) {
				p.Add(badAfter(t.After.Span, c.AfterCounts))
				c.AfterCounts = 0
			}
		case !t.At.There && !t.After.There:
			p.Add(noAt(t.Span))
		}
		if t.At.Set {
			var fault *source.Fault
			if c.Position, fault = clock.ParsePosition(t.At.V); fault != nil {
				p.Add(badPosition(t.At.Span, fault))
			} else {
				c.Placed = true
			}
		}
		if t.Fade.Set && !(c.FadeCounts >= 0 && c.FadeCounts <= longestFade) {
			p.Add(badFade(t.Fade.Span, c.FadeCounts))
			c.FadeCounts = 0
		}
		for _, e := range t.Nudge.Entries {
			c.Nudges = append(c.Nudges, Nudge{e.Name, e.Value.Within(unit.Level, 0, -loudestDB, loudestDB, "a nudge", p)})
		}
		for _, e := range t.Param.Entries {
			for _, x := range e.Value.Entries {
				c.Params = append(c.Params, Param{Name: e.Name, Of: x.Name, Value: x.Value})
			}
		}
		c.Also = raws(t.Also, p)
		s.Cues = append(s.Cues, c)
	}
}
