// Package loudness writes how loud a show is: whether the featured players are heard over the others, what the others are
// made of, and which open mics ring first. It says how far off each number may be, and holds back those that mean
// nothing before noise and brass were measured.
package loudness

import (
	"math"
	"slices"

	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// LoudnessReport is how loud the cues of a show are, as balance prints it in JSON. Levels are in dB or dBA, to 0.01 dB.
// What has nothing to compare, or is held back, is null.
type LoudnessReport struct {
	Noise      bool           `json:"noise_measured"`
	Brass      bool           `json:"brass_measured"`
	Seats      int            `json:"seats"`              // 0: the press box is the only one
	SharePct   float64        `json:"share_of_seats_pct"` // of the figures "at the seats"
	GiveOrTake ReportSpread   `json:"give_or_take"`
	Cues       []LoudnessCue  `json:"cues"`
	LeftOut    LeftOutOfSound `json:"left_out"`
	Near       *NearLevels    `json:"near_people,omitempty"` // only of all cues together
	Proposed   *ProposedPlan  `json:"proposed,omitempty"`    // of all cues together; null before noise and brass

	spread advice.Spread
}

// ReportSpread is how far off figures may be, in dB; null for what is held back. That of the report is for the cues whose
// featured players were not measured alone.
type ReportSpread struct {
	LeadDB  float64  `json:"lead_db"`
	OverDB  *float64 `json:"over_db"`
	LoopDB  *float64 `json:"loop_db"`
	LevelDB *float64 `json:"level_db"`
}

// LeftOutOfSound is what of the show no figure counts.
type LeftOutOfSound struct {
	Subs     []string `json:"subs,omitempty"`
	Lines    []string `json:"lines,omitempty"`
	Sections []string `json:"sections,omitempty"` // without an instrument
}

// LoudnessCue is how loud one cue is.
type LoudnessCue struct {
	ID       string           `json:"cue"`
	Name     string           `json:"name,omitempty"`
	Role     string           `json:"role,omitempty"`
	Featured []FeaturedPlayer `json:"featured,omitempty"`

	WantedDB    *float64       `json:"lead_wanted_db"`
	LeadBoxDB   *float64       `json:"lead_box_db"`
	LeadSeatsDB *float64       `json:"lead_seats_db"`
	LeadAllDB   *float64       `json:"lead_seats_all_playing_db"` // those who are not counted play mf
	Reached     advice.Verdict `json:"lead_reached,omitempty"`
	ReachedAt   *SeatShare     `json:"lead_reached_at_seats"`
	BestDB      *float64       `json:"best_band_seats_db"`
	BestAllDB   *float64       `json:"best_band_seats_all_playing_db"`
	BestBoxHz   int            `json:"best_band_box_hz,omitempty"`
	Heard       advice.Verdict `json:"heard,omitempty"`

	Box         *BoxLevels     `json:"box_dba"`
	OverBoxDB   *float64       `json:"over_box_db"`
	PlayerLeads advice.Verdict `json:"player_leads,omitempty"`
	OverWanted  float64        `json:"over_wanted_db"` // at most
	LeadsAt     *SeatShare     `json:"player_leads_at_seats"`
	InTimePct   *float64       `json:"in_time_seats_pct"` // for the featured; null: no stands

	Bed []LoudPart `json:"bed_loudest_parts"`

	MarginDB     *float64       `json:"margin_db"`
	MarginWanted float64        `json:"margin_wanted_db"`
	MarginKept   advice.Verdict `json:"margin_kept,omitempty"`
	Rings        *RingsFirst    `json:"rings_first"`
	NoLowCut     []string       `json:"no_low_cut_in_roles,omitempty"`
	Near         *NearLevels    `json:"near_people"`

	Proposed *CueProposal `json:"proposed"` // null before noise and brass, and where no lead is wanted

	Solo       bool         `json:"solo_measured"` // all who are featured, each alone
	GiveOrTake ReportSpread `json:"give_or_take"`

	NotStated  []UnstatedPart  `json:"not_stated,omitempty"`
	NotCounted []UncountedPart `json:"not_counted,omitempty"`
	NoDot      []string        `json:"no_dot,omitempty"`

	spread advice.Spread
}

// FeaturedPlayer is somebody whom the others should not cover.
type FeaturedPlayer struct {
	Name       string  `json:"player"`
	DynamicsDB float64 `json:"dynamics_db"`     // from forte
	Rests      bool    `json:"rests,omitempty"` // is silent, and the mic is open
}

// SeatShare is a share of the seats, and that with all values lower or higher by give or take.
type SeatShare struct {
	Pct  float64 `json:"pct"`
	From float64 `json:"from_pct"`
	To   float64 `json:"to_pct"`
}

// BoxLevels is how loud it is at the press box, in dBA: of the featured players and of all others.
type BoxLevels struct {
	Own      *float64 `json:"own"`
	Stacks   *float64 `json:"stacks"`
	Together *float64 `json:"together"`
	Bed      *float64 `json:"bed"`

	Background *float64 `json:"background,omitempty"` // as read: the lead is over the bed and this
}

// LoudPart is a part of the bed at the press box.
type LoudPart struct {
	Name    string   `json:"name"` // of the section, or the kind of fixed mic
	Fixed   bool     `json:"fixed_mics,omitempty"`
	Stacks  bool     `json:"through_stacks,omitempty"`
	Players int      `json:"players,omitempty"`
	Mics    int      `json:"mics,omitempty"`
	DBA     *float64 `json:"dba"`
}

// RingsFirst is the worst moment of a cue for feedback, and the mics that ring first then.
type RingsFirst struct {
	Movement int       `json:"movement"`
	Count    float64   `json:"count"`
	TimeS    float64   `json:"time_s"`
	Mics     []LoopMic `json:"mics"`
}

// LoopMic is an open mic whose loop is among the loudest.
type LoopMic struct {
	Name   string   `json:"name"`
	Where  string   `json:"dot"`
	BandHz int      `json:"band_hz"` // in which it rings first
	LoopDB *float64 `json:"loop_db"`
}

// UnstatedPart is players whose dynamics the show does not state.
type UnstatedPart struct {
	Section string `json:"section"`
	Players int    `json:"players"`
	Taken   string `json:"taken"`
}

// UncountedPart is a section that is on the field and, as far as the show says, does not play.
type UncountedPart struct {
	Section string   `json:"section"`
	Players int      `json:"players"`
	But     []string `json:"but,omitempty"`
}

// printedParts and printedMics are how many parts of the bed, and how many mics, are worth naming.
const (
	printedParts = 4
	printedMics  = 3
)

// NewReport is the report of some cues of a show.
func NewReport(s *show.Loaded, l *balance.Loudness, cues []*balance.CueLoudness) *LoudnessReport {
	r := &LoudnessReport{Noise: l.Measured.Noise, Brass: l.Measured.Brass, Seats: s.Setup.Seats,
		SharePct: s.Setup.Score.Goals.SharePct, spread: advice.SpreadOf(l.Measured)}
	r.GiveOrTake = r.takenFrom(r.spread)
	r.LeftOut = LeftOutOfSound{Lines: l.Lines, Sections: l.Silent}
	for _, k := range s.Setup.Rig.Stacks {
		if k.Sub {
			r.LeftOut.Subs = append(r.LeftOut.Subs, k.Name)
		}
	}
	for _, c := range cues {
		r.Cues = append(r.Cues, r.cue(s, c))
	}
	return r
}

func (r *LoudnessReport) takenFrom(x advice.Spread) ReportSpread {
	return ReportSpread{x.LeadDB, r.held(x.OverDB), r.held(x.LoopDB), r.held(x.NearDB)}
}

// measured reports whether more may be said than lead and best band.
func (r *LoudnessReport) measured() bool {
	return advice.Measured{Noise: r.Noise, Brass: r.Brass}.Calibrated()
}

func (r *LoudnessReport) cue(s *show.Loaded, c *balance.CueLoudness) LoudnessCue {
	goals := &s.Setup.Score.Goals
	snapshot := &s.Show.Cues[c.Cue]
	x := LoudnessCue{ID: snapshot.ID, Name: snapshot.Name, Role: c.Role, MarginWanted: goals.MarginDB,
		OverWanted: goals.OverDB, Solo: c.Measured.Solo, spread: advice.SpreadOf(c.Measured)}
	x.GiveOrTake = r.takenFrom(x.spread)
	for _, p := range c.Ends[0].Playing.Performers {
		if p.Featured {
			x.Featured = append(x.Featured, FeaturedPlayer{p.Name, p.DynamicsDB, p.Rests})
		}
	}
	if target, ok := goals.TargetOf(c.Role); ok {
		x.WantedDB = &target
	}
	end := r.lead(&x, c)
	heard := c.Heard[end]
	for _, p := range heard.Parts[:min(printedParts, len(heard.Parts))] {
		x.Bed = append(x.Bed, LoudPart{p.Name, p.Fixed, p.Stacks, p.Players, p.Mics, r.held(p.DBA)})
	}
	if over, _ := c.Heard.OverAtBox(); over.OK && r.measured() {
		box := &heard.Box
		own, stacks, all, bed := box.FeaturedOwn, box.FeaturedStacks, box.Featured(), box.Bed()
		x.Box = &BoxLevels{rounded(own.ADB()), rounded(stacks.ADB()), rounded(all.ADB()), rounded(bed.ADB()),
			s.Setup.Rig.Levels.BackgroundDBA}
		x.OverBoxDB, x.PlayerLeads = rounded(over.DB), advice.AtMost(over.DB, goals.OverDB, x.spread.OverDB)
		x.LeadsAt = shareOf(c.Heard.ShareOver, goals.OverDB, x.spread.OverDB)
	}
	if share, ok := snapshot.InTimeOf(x.names()); ok {
		x.InTimePct = rounded(100 * share)
	}
	r.rings(&x, s, c)
	x.Proposed = r.proposal(c)
	for _, u := range c.NotStated {
		x.NotStated = append(x.NotStated, UnstatedPart{u.Section, u.Players, u.Mark})
	}
	for _, u := range c.NotCounted {
		x.NotCounted = append(x.NotCounted, UncountedPart{u.Section, len(u.Names), u.But})
	}
	x.NoDot, x.NoLowCut = c.NoDot, c.NoLowCut
	return x
}

// lead fills in whether the featured players are heard, and returns the end of the cue at which the press box hears
// them least.
func (r *LoudnessReport) lead(x *LoudnessCue, c *balance.CueLoudness) (end int) {
	box, end := c.Heard.LeadAtBox()
	seats, _ := c.Heard.LeadAt(r.SharePct)
	best, _ := c.Heard.BestAt(r.SharePct)
	allLead, _ := c.MF.LeadAt(r.SharePct)
	allBest, _ := c.MF.BestAt(r.SharePct)
	x.LeadBoxDB, x.LeadSeatsDB, x.BestDB = figure(box), figure(seats), figure(best)
	x.LeadAllDB, x.BestAllDB = figure(allLead), figure(allBest)
	if !box.OK {
		end = 0
	}
	if f, band := c.Heard[end].Box.Best(); f.OK {
		x.BestBoxHz = level.NominalHz[band]
	}
	spread := x.spread.LeadDB
	if best.OK {
		x.Heard = advice.AtLeast(best.DB, 0, spread)
	}
	if !seats.OK || x.WantedDB == nil {
		return end
	}
	x.Reached = advice.AtLeast(seats.DB, *x.WantedDB, spread)
	x.ReachedAt = shareOf(c.Heard.ShareLead, *x.WantedDB, spread)
	return end
}

// shareOf is the share of the seats that keep a limit, whether more is better there or less; nil where there is nothing to
// compare.
func shareOf(kept func(db float64) (share float64, ok bool), limitDB, spreadDB float64) *SeatShare {
	var pct [3]float64
	for i, db := range [...]float64{limitDB, limitDB + spreadDB, limitDB - spreadDB} {
		share, ok := kept(db)
		if !ok {
			return nil
		}
		pct[i] = *rounded(100 * share)
	}
	return &SeatShare{pct[0], min(pct[1], pct[2]), max(pct[1], pct[2])}
}

// names are those of the featured players.
func (c *LoudnessCue) names() (list []string) {
	for _, p := range c.Featured {
		list = append(list, p.Name)
	}
	return list
}

// rings fills in the mics that ring first. Which ones does not hang on the readings; how close they are does.
func (r *LoudnessReport) rings(x *LoudnessCue, s *show.Loaded, c *balance.CueLoudness) {
	worst, db := c.WorstLoop()
	if worst == nil {
		return
	}
	if r.measured() {
		x.MarginDB, x.MarginKept = rounded(-db), advice.AtLeast(-db, x.MarginWanted, x.spread.LoopDB)
	}
	at := worst.At
	x.Rings = &RingsFirst{Movement: at.Movement, Count: at.Count(), TimeS: *rounded(s.Clock.Seconds(at))}
	loudest := slices.DeleteFunc(worst.Gains.Loudest(), func(m level.MicLoop) bool {
		db, _ := m.GreatestDB()
		return math.IsInf(db, -1)
	})
	for _, m := range loudest[:min(printedMics, len(loudest))] {
		db, band := m.GreatestDB()
		mic := LoopMic{Name: m.Name, BandHz: level.NominalHz[band], LoopDB: r.held(db)}
		if p, ok := s.Where(m.Name, at); ok {
			mic.Where = s.Setup.Rig.Field.Dot(p)
		}
		x.Rings.Mics = append(x.Rings.Mics, mic)
	}
}

// held is a figure that means something only once noise and brass were measured.
func (r *LoudnessReport) held(db float64) *float64 {
	if !r.measured() {
		return nil
	}
	return rounded(db)
}

// figure is a figure to 0.01 dB, or nil where there is nothing to compare.
func figure(f level.Figure) *float64 {
	if !f.OK {
		return nil
	}
	return rounded(f.DB)
}

// rounded is a number to two decimals; nil for silence.
func rounded(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	v = math.Round(100*v)/100 + 0 // no -0
	return &v
}
