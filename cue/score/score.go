// Package score knows show.toml: movements with their tempo, roles, and cues, as values that know where they
// were written. It resolves no name and no count; the compiler does.
package score

import (
	"backfield/cue/clock"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Score is a show as its designer wrote it.
type Score struct {
	File    *source.File
	Title   string
	Partial bool // the file was refused: only the names of the other files were picked out of it

	Sets, Dots, Roster, Rig, Mixer, Venue table.Text // paths, relative to the score

	Columns  *rows.Columns // how the sheet of dots is laid out; nil: Backfield's own layout
	Together bool          // the sheet of dots has the sets too

	Words table.Map[table.Text] // of the staff in the dots, and what they stand for

	Roles     []Role
	Always    []RoleOpen    // fixed mics that are open unless a cue closes them
	Parts     []PartPlayers // of the music, in the order of the file
	Movements []Movement
	Cues      []Cue // in the order of the file

	Policy      table.Text // of the show; unset: most-seats where there are stands, else reference
	LeadMS      float64
	WindowMS    float64    // the greatest arrival gap of a seat in time
	MarginMS    float64    // a seat counts in part within this of the window's ends
	BoxMS       [2]float64 // the least and the greatest arrival gap at the press box
	Free        bool       // the press box has no bound; BoxMS is the default one
	SlewMSPS    float64    // the fastest change of an open delay, ms a second
	DipS        float64    // the price of a dip, in seconds of full stands; 0: never dip
	DipAt       source.Span
	KnotMS      float64 // how far a path may be from the best delay between knots, a multiple of 0.1
	PanWidth    float64
	PanKnot     float64 // the same of the pan, or in zones of the place
	PanByStands bool    // pan by all seats of the stands, not by the reference seat
	JointDeg    float64 // how far joint may leave the true direction, in degrees
	MakeUp      MakeUp

	Allow       []table.Text // codes of warnings accepted everywhere
	Rules       Rules
	Goals       LoudGoals
	Instruments []GivenInstrument

	ZonesMost int // how many stacks carry one player where stacks are zones
}

// BoxBound is a bound of the arrival gap at the press box, from the least to the greatest, in ms. Free is none.
type BoxBound struct {
	MS   [2]float64
	Free bool
}

// DelayMS is what the bound leaves to a delay, if the press box needs so much, all in ms. No delay is below 0.
func (b BoxBound) DelayMS(needMS float64) (least, most float64) {
	return max(0, needMS+b.MS[0]), max(0, needMS+b.MS[1])
}

// BoxOf is the bound of a cue's mics in a role: the cue's own, the role's, or the show's, the first that there is.
func (s *Score) BoxOf(c *Cue, r *Role) BoxBound {
	switch {
	case c.Box != nil:
		return *c.Box
	case r.Box != nil:
		return *r.Box
	}
	return BoxBound{s.BoxMS, s.Free}
}

// EarlyOf is by how many counts a cue's mics in a role open before it: what the cue says, or the role.
func (s *Score) EarlyOf(c *Cue, r *Role) float64 {
	if c.EarlyCounts != nil {
		return *c.EarlyCounts
	}
	return r.EarlyCounts
}

// Role is how far forward an open mic is.
type Role struct {
	Name    string
	LevelDB float64
	Unsure  bool   // the level could not be read
	Policy  string // "" for the show's
	Params  []ScoreParam
	Span    source.Span

	Box         *BoxBound // its own bound at the press box; nil for the show's
	EarlyCounts float64   // by how much its mics open before their cue
	DynamicsDB  *float64  // how loudly its players play, in dB from forte; nil where it does not say
	LowCutHz    *float64  // 0: off; nil where it does not say. It is also among Params
}

// ScoreParam is what one of the mixer's own parameters is set to. In a cue, Of is the player, fixed mic or @group.
type ScoreParam struct {
	Name  table.Text
	Of    table.Text
	Value table.Setting
}

// Raw is an extra message of a cue, as written: a type tag for each argument (i, h, f, d, s, T or F), and what
// cue.Raw says of each.
type Raw struct {
	Address table.Text
	Types   string
	Args    []any
}

// MakeUp lifts far players: min(MaxDB, 20 log10(d/FromM)), d being the player's distance from the reference
// seat. Off when MaxDB is 0.
type MakeUp struct{ FromM, MaxDB float64 }

// Movement is one movement's time as written.
type Movement struct {
	Name    string
	Span    source.Span
	Counts  table.Int // the length that its sets must add up to; optional
	WaitS   float64   // silence before its downbeat
	Changes []clock.Change

	File  *MusicFile   // the music that the tempo comes from, nil where the score says the tempo itself
	Music *clock.Music // what that file says; nil without one, or where it could not be read
}

// MusicFile is the file of music that a movement takes its time from, and how it is counted.
type MusicFile struct {
	Name     table.Text // path, relative to the score
	Beat     table.Text // what one count is; unset: a quarter note where the meter leaves no doubt
	From, To MusicPlace // the part of the file that is the movement
	First    table.Int  // the number of the file's first measure, 0 a pickup; for files that have no numbers
	Pauses   []Pause
}

// MusicPlace is a measure or a mark of a file, as written.
type MusicPlace struct {
	table.Text
	Count clock.ShowCount
}

// Pause is silence that is not in a file of music, once a count has sounded.
type Pause struct {
	Count float64         // from 1; 0 where Position says it
	Place clock.ShowCount // a measure or a mark
	S     float64
	Span  source.Span // of at
}

// RoleOpen is who is open in one role. A name is a player, a fixed mic, or a group when it begins with @.
type RoleOpen struct {
	Role  table.Text
	Names []table.Text
}

// Nudge is a correction of one player's level in one cue, in dB.
type Nudge struct {
	Name table.Text
	DB   float64
}

// Cue is one cue as written.
type Cue struct {
	ID, At, Name table.Text
	Span         source.Span // its header
	Position     clock.ShowCount
	Placed       bool    // whether At could be read
	Auto         bool    // an automatic cue, AfterCounts after the cue above it
	AfterCounts  float64 // 0 where it could not be read
	Open         []RoleOpen
	Close        []table.Text
	Keep         bool
	FadeCounts   float64
	FadeOut      *float64    // counts, of what closes; nil for FadeCounts
	EarlyCounts  *float64    // by how much what it opens is open before; nil for the role's
	EarlyAt      source.Span // where that is said, if it is
	Box          *BoxBound   // its own bound at the press box; nil for the role's or the show's
	Nudges       []Nudge
	Params       []ScoreParam
	Also         []Raw
	Policy       string       // "" for the role's, the player's or the show's
	Allow        []table.Text // codes of warnings that the designer has accepted

	Dynamics     []StatedDynamics // how loudly players and @sections play
	Plays, Rests []table.Text     // who plays, mic or no mic, and who does not
	Facing       []StatedFacing   // in which direction players and @sections point
}

// Role returns a role by its name.
func (s *Score) Role(name string) (Role, bool) {
	for _, r := range s.Roles {
		if r.Name == name {
			return r, true
		}
	}
	return Role{}, false
}

// RoleNames lists the roles in the order of the file.
func (s *Score) RoleNames() []string {
	names := make([]string, len(s.Roles))
	for i, r := range s.Roles {
		names[i] = r.Name
	}
	return names
}
