package work

import (
	"encoding/binary"
	"math"

	"backfield/cue"
	"backfield/cue/score"
	"backfield/layout"
	"backfield/layout/stands"
)

// The prices and steps that no file sets, and that are the same for all shows.
const (
	gridMS = 0.1  // the step of the search and of the knots of a mixer that glides
	still  = 0.01 // the price of moving, in seconds of the full stand for a ms
	click  = 0.1  // the price of a change at a cue, for a mixer that clicks, in seconds of the full stand
	over   = 1.0  // the price of a ms outside the press box's bound

	tooEarly    = 100.0 // how many times as much a delay below what never-early wants counts
	makeUpKnot  = 0.5   // the tolerance of the make-up, in dB
	panSteps    = 100   // from the middle to one side, of pans by the stands
	besideBoxMS = 25.0  // how far below the box's bound the search goes; above it, 40
	beyondBoxMS = 40.0
)

// PathRules are what all paths of a show go by: the score's settings, and the mixer's.
type PathRules struct {
	Window               stands.Window
	LeadMS               float64
	SlewMSPS, DipS       float64
	KnotMS, PanKnot      float64
	Moves                cue.Moves
	StepMS, MinMS, MaxMS float64 // the mixer's
	Zones                bool
	ZonesMost            int
	PanWidth             float64
	PanByStands          bool
	JointDeg             float64
	MakeUpFromM          float64
	MakeUpMaxDB          float64
}

// glides reports whether delays glide.
func (r *PathRules) glides() bool { return r.Moves == cue.Glides }

// moves reports whether delays change while a channel is open.
func (r *PathRules) moves() bool { return r.Moves != cue.Closed || r.DipS > 0 }

// grid is the step of the search: what a mixer that jumps is sent must be what was chosen.
func (r *PathRules) grid() float64 {
	if r.glides() {
		return gridMS
	}
	return r.StepMS
}

// stretchInput is everything that a path depends on other than the basis.
type stretchInput struct {
	Worn    bool     // or fixed
	Player  bool     // there is one to be in time with; else it has no fit
	LaterMS float64  // how much longer the sound takes to the loudspeakers than a worn mic's
	Pan     *float64 // set in the rig
	DelayMS *float64 // the same
	Samples []sampleInput
}

// sampleInput is one sample of a stretch.
type sampleInput struct {
	At             layout.Point
	Counts         float64
	StepS, WeightS float64
	IsCue, IsWait  bool
	MayJump        bool
	Part           int // the number of its cue in the stretch
	Policy         *stands.Policy
	Box            score.BoxBound
}

// key is every field of the input as a string of bytes.
func (q *stretchInput) key() string {
	key := make([]byte, 0, 24+len(q.Samples)*96)
	number := func(v float64) { key = binary.LittleEndian.AppendUint64(key, math.Float64bits(v)) }
	flag := func(v bool) {
		if v {
			key = append(key, 1)
			return
		}
		key = append(key, 0)
	}
	maybe := func(v *float64) {
		if flag(v != nil); v != nil {
			number(*v)
		}
	}
	flag(q.Worn)
	flag(q.Player)
	number(q.LaterMS)
	maybe(q.Pan)
	maybe(q.DelayMS)
	for i := range q.Samples {
		x := &q.Samples[i]
		for _, v := range [...]float64{x.At.X, x.At.Y, x.At.Z, x.Counts, x.StepS, x.WeightS, x.Box.MS[0], x.Box.MS[1]} {
			number(v)
		}
		flag(x.IsCue)
		flag(x.IsWait)
		flag(x.MayJump)
		flag(x.Box.Free)
		key = binary.AppendVarint(key, int64(x.Part))
		key = append(append(key, x.Policy.Name...), 0)
	}
	return string(key)
}

// StretchPath is the path of a stretch, by sample.
type StretchPath struct {
	Want     []float64 // the wanted pan; with zones the wanted place along the row of stacks
	TurnDeg  int       // how far joint turned the player for it
	MakeUpDB []float64 // nil without make-up
	NeedMS   []float64 // of the press box
	WantMS   []float64 // what the policy wants, at least 0; NaN where the seats and the box decide
	DelayMS  []float64 // the path, on the grid
	SentMS   []float64 // the lines between the knots, as the mixer does them
	SceneMS  float64   // what a mixer would keep that moves nothing while the channel is open, as it does it
	Heard    bool      // a stack carries the mic, at some sample
	// HeldShare is by how much more seats would be in time if the mixer's delay could glide, 0 to 1.
	HeldShare float64
	Knots     []PathKnot

	fits    []*stands.Fit // by part
	boxLate [][2]float64
	echoes  []partEcho // by part
}

// PathKnot is where the lines that are sent may bend.
type PathKnot struct {
	Sample  int
	DelayMS float64
}
