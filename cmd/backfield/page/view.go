// Package page is the designer's local page: the field as the press box sees it, the whole show as a ribbon of
// counts below it, and what every save has changed. The page computes nothing: all numbers come from the compiled
// show. It listens on loopback, sends nothing to anyone else, and moves nothing on any mixer.
package page

// View is all that the page draws, of one version of the show. Places are metres in plan (x from the 50 towards side
// 2, y from the front sideline towards the back). A count without a movement is counted through the whole show, 0 at
// its first downbeat.
type View struct {
	Version   int            `json:"version"`
	Title     string         `json:"title"`
	Venue     string         `json:"venue"`
	Air       string         `json:"air"`
	Broken    bool           `json:"broken"` // the last save has errors
	Stale     bool           `json:"stale"`  // and what is drawn is the version before it
	Counts    float64        `json:"counts"` // of the whole show
	Ground    Ground         `json:"ground"`
	Movements []Movement     `json:"movements"`
	Sets      []Set          `json:"sets"`
	Sections  []string       `json:"sections"` // in the order of the roster; the place in it is the mark's number
	Marks     [][][2]float64 `json:"marks"`    // of the sections: outlines in a box from -1 to 1, y down
	Keys      []float64      `json:"keys"`     // the counts between which everybody walks straight and evenly
	Players   []Player       `json:"players"`
	Channels  []Channel      `json:"channels"`
	OpenCount []Step         `json:"open_count"`
	Cues      []Cue          `json:"cues"`
	Problems  []Trouble      `json:"problems"`
	Against   string         `json:"against"` // what the changes are told against: "the save before", "HEAD~1"
	Changes   string         `json:"changes"` // in one line, "" for none
	WindowMS  float64        `json:"window_ms"`
}

// Ground is what stands still.
type Ground struct {
	LengthM   float64     `json:"length"` // goal line to goal line
	EndZoneM  float64     `json:"end_zone"`
	WidthM    float64     `json:"width"`
	HashesM   [2]float64  `json:"hashes"`
	Middle    int         `json:"middle"` // the number of the middle yard line
	Stacks    []Stack     `json:"stacks"`
	Mics      []Fixed     `json:"mics"`
	Reference [2]float64  `json:"reference"`
	Seats     [][]float64 `json:"seats"`  // x, y of each seat with a weight
	Blocks    [][]float64 `json:"blocks"` // corners of each block of the stand: x, y, x, y ...
}

// Stack is a loudspeaker position.
type Stack struct {
	Name string     `json:"name"`
	At   [2]float64 `json:"at"`
	Sub  bool       `json:"sub"`
	Zone int        `json:"zone"`
}

// Fixed is a mic on a stand.
type Fixed struct {
	Name    string     `json:"name"`
	Kind    string     `json:"kind"`
	Channel int        `json:"channel"`
	At      [2]float64 `json:"at"`
}

// Movement is one movement's time.
type Movement struct {
	Name   string    `json:"name"`
	From   float64   `json:"from"`
	Counts float64   `json:"counts"`
	TimesS []float64 `json:"times"` // of every quarter count from its downbeat to its end, since the show's
	BPM    []float64 `json:"bpm"`   // at every count
}

// quarter is the step of the times in a Movement, in counts.
const quarter = 0.25

// Set is the instant that a form is reached.
type Set struct {
	Label string  `json:"label"`
	At    float64 `json:"at"`
}

// Player is where one performer is at each of the Keys; an empty list is one whose dots are not known.
type Player struct {
	Name    string       `json:"name"`
	Section int          `json:"section"` // -1: he is not in the roster
	Wears   string       `json:"wears"`   // pack and channel, from when; "" for none
	Way     [][2]float64 `json:"way"`
	Was     [][2]float64 `json:"was,omitempty"` // before the change, where it differs and has the same keys
}

// Channel is one mixer input and when it is open.
type Channel struct {
	Number int    `json:"number"`
	Name   string `json:"name"` // who wears it, in order of time
	Kind   string `json:"kind"`
	Bars   []Bar  `json:"bars"`
}

// Bar is a stretch of counts in which a channel is open for one player in one role.
type Bar struct {
	From   float64 `json:"from"`
	To     float64 `json:"to"`
	Player string  `json:"player"`
	Role   string  `json:"role"`
	Rank   int     `json:"rank"`  // of the role, 0 the loudest
	Level  string  `json:"level"` // in words
}

// Step is how many mics are open from a count on, and what that costs in gain before feedback.
type Step struct {
	At   float64 `json:"at"`
	Open int     `json:"open"`
	DB   float64 `json:"db"`
}

// Cue is one snapshot.
type Cue struct {
	ID       string   `json:"id"`
	Position string   `json:"position"`
	Where    string   `json:"where"` // movement and count, set, time, in words
	Name     string   `json:"name"`
	At       float64  `json:"at"`
	FollowOn bool     `json:"follow_on"`
	Auto     bool     `json:"auto"`
	Place    string   `json:"place"` // file and line
	Says     []string `json:"says"`  // what changes, a line each
	Open     []Mic    `json:"open"`
	Mark     string   `json:"mark"` // changed, added; "" for neither
	Diff     []string `json:"diff"`
}

// Mic is one open channel in a cue.
type Mic struct {
	Channel int        `json:"channel"`
	Player  string     `json:"player"`
	Role    string     `json:"role"`
	Rank    int        `json:"rank"` // of the role, 0 the loudest
	Level   string     `json:"level"`
	Pan     string     `json:"pan"`
	Delay   string     `json:"delay"`
	Fit     string     `json:"fit"`
	Own     []string   `json:"own"`   // the mixer's own parameters, in words
	At      [2]float64 `json:"at"`    // when the cue begins
	End     [2]float64 `json:"end"`   // when the next begins
	Image   [2]float64 `json:"image"` // where its sound seems to come from, on the line of the stacks
}

// Trouble is one thing that check tells, and where on the page it belongs.
type Trouble struct {
	Severity string  `json:"severity"`
	Code     string  `json:"code"`
	Place    string  `json:"place"` // file, line and column
	Text     string  `json:"text"`
	Line     string  `json:"line"` // of the file
	At       float64 `json:"at"`   // the count on the ribbon; below 0 for none
	Cue      string  `json:"cue"`
	Player   string  `json:"player"`
}
