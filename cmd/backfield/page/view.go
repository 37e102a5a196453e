// Package page is the designer's local page: the field as the press box sees it, a timeline of the whole show below
// it, and what each save has changed. The page computes nothing: all numbers come from the compiled show. It listens
// on loopback, sends nothing to anyone else, and changes nothing on any mixer.
package page

// ShowView is everything that the page draws of one version of the show. Places are in meters from above (x from the
// 50 toward side 2, y from the front sideline toward the back). Counts run through the whole show, from 0 at its first
// downbeat.
type ShowView struct {
	Version   int            `json:"version"`
	Title     string         `json:"title"`
	Venue     string         `json:"venue"`
	Air       string         `json:"air"`
	Broken    bool           `json:"broken"` // the last save has errors
	Stale     bool           `json:"stale"`  // the page still draws the version before that save
	Counts    float64        `json:"counts"` // the length of the whole show
	Field     FieldView      `json:"field"`
	Movements []MovementView `json:"movements"`
	Sets      []SetView      `json:"sets"`
	Sections  []string       `json:"sections"` // in the order of the roster; the index is the number of the mark
	Marks     [][][2]float64 `json:"marks"`    // outlines of the sections' marks in a box from -1 to 1, y down
	Keys      []float64      `json:"keys"`     // between two of these counts everybody walks straight and evenly
	Players   []PlayerView   `json:"players"`
	Channels  []ChannelView  `json:"channels"`
	OpenCount []OpenView     `json:"open_count"`
	Cues      []CueView      `json:"cues"`
	Handovers []HandoverView `json:"handovers"`
	Problems  []ProblemView  `json:"problems"`
	Unchecked string         `json:"unchecked"` // what Problems does not cover: "checking levels"; "" for nothing
	Accepted  []string       `json:"accepted"`  // warnings about cues that the score accepts, a line for each kind
	// AcceptedIn is how many kinds of warning the score accepts in each cue that has any.
	AcceptedIn map[string]int `json:"accepted_in"`
	FirstCue   string         `json:"first_cue"` // a cue to start from, as the score writes it; "" where there are cues
	Against    string         `json:"against"`   // what the show is compared with: "the last save", "HEAD~1"
	Changes    string         `json:"changes"`   // one line; "" for none
	WindowMS   float64        `json:"window_ms"`
}

// FieldView is what does not move: the field, the loudspeakers, the fixed mics and the stands.
type FieldView struct {
	LengthM   float64        `json:"length"` // goal line to goal line
	EndZoneM  float64        `json:"end_zone"`
	WidthM    float64        `json:"width"`
	HashesM   [2]float64     `json:"hashes"`
	Middle    int            `json:"middle"` // the number of the middle yard line
	Stacks    []StackView    `json:"stacks"`
	Mics      []FixedMicView `json:"mics"`
	Reference [2]float64     `json:"reference"`
	Seats     [][]float64    `json:"seats"`  // x, y and height of each seat with a weight
	Rows      []RowView      `json:"rows"`   // of the blocks; the surveyed seats come after them
	Blocks    [][]float64    `json:"blocks"` // corners of each block of the stands: x, y, x, y ...
}

// RowView is one row of a block of the stands.
type RowView struct {
	Block string `json:"block"`
	Row   int    `json:"row"`   // from 1 at the front
	From  int    `json:"from"`  // the index of its first seat, at side 1, in FieldView.Seats
	Seats int    `json:"seats"` // how many
}

// StackView is one loudspeaker stack.
type StackView struct {
	Name string     `json:"name"`
	At   [2]float64 `json:"at"`
	Sub  bool       `json:"sub"`
	Zone int        `json:"zone"`
}

// FixedMicView is a mic on a mic stand.
type FixedMicView struct {
	Name    string     `json:"name"`
	Kind    string     `json:"kind"`
	Channel int        `json:"channel"`
	At      [2]float64 `json:"at"`
}

// MovementView is the length and the tempo of one movement.
type MovementView struct {
	Name   string    `json:"name"`
	From   float64   `json:"from"`
	Counts float64   `json:"counts"`
	TimesS []float64 `json:"times"` // of each quarter count of the movement, in seconds from the show's first downbeat
	BPM    []float64 `json:"bpm"`   // at every count
}

// quarterCount is the distance between two times of a MovementView, in counts.
const quarterCount = 0.25

// SetView is the count at which a set is reached.
type SetView struct {
	Label string  `json:"label"`
	At    float64 `json:"at"`
}

// PlayerView is where a player is at each count of ShowView.Keys. Path is empty if the player's dots are unknown.
type PlayerView struct {
	Name    string       `json:"name"`
	Section int          `json:"section"` // -1 if the player is not in the roster
	Wears   string       `json:"wears"`   // packs and channels, as text; "" for none
	Path    [][2]float64 `json:"path"`
	Was     [][2]float64 `json:"was,omitempty"` // the path before the change, if it differs and has the same keys
}

// ChannelView is one mixer channel and when it is open.
type ChannelView struct {
	Number int       `json:"number"`
	Name   string    `json:"name"` // the players who wear it, in order of time
	Kind   string    `json:"kind"`
	Group  string    `json:"group"` // whose rows stand together: the section of the first wearer, or "fixed"
	Bars   []BarView `json:"bars"`

	Plays [][2]float64 `json:"plays,omitempty"` // from when to when its wearer plays, in counts, if the music says it
}

// HandoverView is a pack that goes from one player to another at a count.
type HandoverView struct {
	At      float64 `json:"at"`
	Channel int     `json:"channel"`
	Pack    string  `json:"pack"`
	From    string  `json:"from"`
	To      string  `json:"to"`
}

// BarView is a time in which a channel is open for one player in one role, in counts.
type BarView struct {
	From   float64 `json:"from"`
	To     float64 `json:"to"`
	Player string  `json:"player"`
	Role   string  `json:"role"`
	Rank   int     `json:"rank"`  // of the role; 0 is the loudest
	Level  string  `json:"level"` // as text
}

// OpenView is how many mics are open from a count on, and what that costs in gain before feedback, in dB.
type OpenView struct {
	At   float64 `json:"at"`
	Open int     `json:"open"`
	DB   float64 `json:"db"`
}

// CueView is one snapshot.
type CueView struct {
	ID      string     `json:"id"`
	Where   string     `json:"where"` // movement and count, set, and time, as text
	Name    string     `json:"name"`
	At      float64    `json:"at"`
	Auto    bool       `json:"auto"`
	Place   string     `json:"place"`   // file and line
	Facts   []FactView `json:"facts"`   // how many are open, how many seats are in time, and who is worst
	Loudest string     `json:"loudest"` // who has the highest level
	Opens   string     `json:"opens"`   // who starts to be heard, in short
	Closes  string     `json:"closes"`  // who stops, in short
	Says    []string   `json:"says"`    // what changes, one line each
	Open    []MicView  `json:"open"`    // what changes first, then the loudest role
	Stops   []string   `json:"stops"`   // the players who stop being heard
	Mark    string     `json:"mark"`    // changed or added; "" for neither
	Diff    []string   `json:"diff"`
}

// FactView is a number that answers a question about a cue, and what it is.
type FactView struct {
	Big   string `json:"big"`
	Small string `json:"small"`
}

// MicView is one open channel in a cue. Level, Pan, Delay, InTime, NoEcho, Box and Own are text.
type MicView struct {
	Channel int        `json:"channel"`
	Fixed   bool       `json:"fixed"`
	Sign    string     `json:"sign"` // what the cue does to it: starts, levels; "" for neither
	Player  string     `json:"player"`
	Role    string     `json:"role"`
	Rank    int        `json:"rank"` // of the role; 0 is the loudest
	Level   string     `json:"level"`
	Pan     string     `json:"pan"`
	Delay   string     `json:"delay"`
	Side    [2]float64 `json:"side"` // the pan, or the place along the row of stacks: first and last, from -1 to 1
	InTime  string     `json:"in_time"`
	NoEcho  string     `json:"no_echo"`
	Box     string     `json:"box"`   // the arrival gap at the press box
	Own     []string   `json:"own"`   // the mixer's own parameters, in words
	At      [2]float64 `json:"at"`    // when the cue begins
	End     [2]float64 `json:"end"`   // when the next cue begins
	Image   [2]float64 `json:"image"` // where the sound seems to come from, on the line of the stacks
}

// ProblemView is one problem from check, and where it belongs on the page.
type ProblemView struct {
	Severity string  `json:"severity"`
	Code     string  `json:"code"`
	Place    string  `json:"place"` // file, line and column
	Text     string  `json:"text"`
	Line     string  `json:"line"` // the text of that line
	At       float64 `json:"at"`   // the count on the timeline; negative for none
	Cue      string  `json:"cue"`
	Player   string  `json:"player"`
}
