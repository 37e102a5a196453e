package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"

	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/level/advice"
	"backfield/layout/source"
)

// Levels is how loud a cue is, with every number as text that says its give or take.
type Levels struct {
	Cue      string     `json:"cue"`
	Measured bool       `json:"measured"` // noise and brass
	Text     string     `json:"text"`     // as backfield balance prints it
	Lead     SeatMap    `json:"lead"`
	Over     SeatMap    `json:"over"`
	Mics     []MicBar   `json:"mics"` // the total, then the mics, those that ring first before others
	MicNote  string     `json:"mic_note"`
	Limit    float64    `json:"limit"` // where on a bar, 0 to 1, the wanted margin is
	Bells    []BellView `json:"bells"`
	Rings    []RingView `json:"rings"` // none until measured
	RingNote string     `json:"ring_note"`
}

// prepared is what all cues of a show have in common for Levels. The error has all that keeps it from being computed.
func prepared(s *show.Loaded) (*balance.Loudness, error) {
	var p source.Problems
	l := s.Loudness(&p)
	if l != nil {
		return l, nil
	}
	var why []string
	for _, x := range p.All() {
		if x.Severity == source.Error {
			why = append(why, x.Span.Where()+": "+x.What)
		}
	}
	return nil, errors.New(strings.Join(why, "\n"))
}

func (t *Site) serveLevels(w http.ResponseWriter, r *http.Request) {
	s, _, ok := t.drawnShow(w)
	if !ok {
		return
	}
	t.mu.Lock()
	loud := t.loud
	t.mu.Unlock()
	id := r.FormValue("cue")
	i := -1
	for n := range s.Show.Cues {
		if s.Show.Cues[n].ID == id {
			i = n
		}
	}
	if i < 0 {
		http.Error(w, fmt.Sprintf("no cue %q", id), http.StatusNotFound)
		return
	}
	l, err := loud()
	if err != nil {
		http.Error(w, "how loud it is cannot be computed:\n"+err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(levelsOf(s, l, l.Cue(i)))
}

func levelsOf(s *show.Loaded, l *balance.Loudness, c *balance.CueLoudness) *Levels {
	report := loudness.NewReport(s, l, []*balance.CueLoudness{c})
	r := &report.Cues[0]
	v := &Levels{Cue: r.ID, Measured: c.Measured.Calibrated(), Bells: bells(l, c), Rings: []RingView{}}
	var text strings.Builder
	report.Page(&text, r)
	v.Text = text.String()
	v.Lead, v.Over = leadMap(s, l, c, r), overMap(s, l, c, r)
	v.bars(l, c, r)
	v.rings(l, c, r)
	return v
}

// MicBar is how near to feedback a mic is, at the moment of the cue that is worst for all of them together.
type MicBar struct {
	Name string  `json:"name"`
	Text string  `json:"text"` // the band that is worst, and the loop once measured
	Part float64 `json:"part"` // the length of the bar, 0 to 1; 0 until measured
	Over bool    `json:"over"` // within the wanted margin
}

// longestBarDB is what a bar covers, up to feedback.
const longestBarDB = 48

// bars fills in the bars of the mics. One whose ring was read has a give or take of its own.
func (v *Levels) bars(l *balance.Loudness, c *balance.CueLoudness, r *loudness.LoudnessCue) {
	v.Mics = []MicBar{}
	v.Limit = 1 - r.MarginWanted/longestBarDB
	v.MicNote = "Feedback: measure first: noise and brass"
	if take := r.GiveOrTake.LoopDB; take != nil {
		v.MicNote = fmt.Sprintf("Feedback: loops, wanted under %.0f dB, %s", -r.MarginWanted, giveOrTake(*take))
	}
	worst, _ := c.WorstLoop()
	if worst == nil {
		return
	}
	total := level.MicLoop{Name: "all together", Loop: worst.Gains.Total()}
	for _, m := range append([]level.MicLoop{total}, worst.Gains.Loudest()...) {
		db, band := m.GreatestDB()
		if math.IsInf(db, -1) {
			continue
		}
		bar := MicBar{Name: m.Name, Text: fmt.Sprintf("%d Hz", level.NominalHz[band])}
		if v.Measured {
			read := c.Measured
			read.Ring = l.RingRead(m.Name)
			take := math.Ceil(advice.SpreadOf(read).LoopDB)
			bar.Text = fmt.Sprintf("%.0f ±%.0f dB, %s", math.Round(db)+0, take, bar.Text)
			bar.Part, bar.Over = mm(min(max(1+db/longestBarDB, 0), 1)), db > -r.MarginWanted
		}
		v.Mics = append(v.Mics, bar)
	}
}

// giveOrTake says how far off a figure may be, upward to the whole dB.
func giveOrTake(db float64) string { return fmt.Sprintf("give or take %.0f dB", math.Ceil(db)) }

// BellView is the direction in plan in which a player's bell points, as unit vectors: when the cue begins, and when the next
// one does.
type BellView struct {
	Player string     `json:"player"`
	From   [2]float64 `json:"from"`
	To     [2]float64 `json:"to"`
}

// bells lists the bells of all brass players who play at both ends of a cue.
func bells(l *balance.Loudness, c *balance.CueLoudness) []BellView {
	list := []BellView{}
	last := c.Ends[1].Playing.Performers
	for i := range c.Ends[0].Playing.Performers {
		p := &c.Ends[0].Playing.Performers[i]
		n := slices.IndexFunc(last, func(q level.Performer) bool { return q.Name == p.Name })
		if n < 0 || p.Rests || !p.Instrument.Brass() {
			continue
		}
		list = append(list, BellView{p.Name, inPlan(l.Stadium.BellAxis(p)), inPlan(l.Stadium.BellAxis(&last[n]))})
	}
	return list
}

func inPlan(axis layout.Point) [2]float64 {
	r := math.Hypot(axis.X, axis.Y)
	return plan(axis.X/r, axis.Y/r)
}

// RingView is where the stacks are as loud as a level at a player's ear, around one stack.
type RingView struct {
	DBA    int          `json:"dba"`
	Label  string       `json:"label"`
	Points [][2]float64 `json:"points"`
}

// ringDBA are the levels of the rings, the loudest last so that it is drawn over the others.
var ringDBA = []int{85, 100}

// ringPoints is how many directions a ring has.
const ringPoints = 72

// rings fills in the rings around the stacks: of the two ends of the cue the one at which they are larger.
func (v *Levels) rings(l *balance.Loudness, c *balance.CueLoudness, r *loudness.LoudnessCue) {
	const caution = "No level here is called safe: measure where people are."
	take := r.GiveOrTake.LevelDB
	if take == nil {
		v.RingNote = "Rings of 100 and 85 dBA around the stacks: measure first: noise and brass. " + caution
		return
	}
	v.RingNote = fmt.Sprintf("Rings: the stacks reach 100 dBA (thick) and 85 dBA at the players' ears, %s. ",
		giveOrTake(*take))
	for _, dba := range ringDBA {
		first := l.Stadium.Rings(c.Ends[0].Playing, float64(dba), level.EarHeightM, ringPoints)
		last := l.Stadium.Rings(c.Ends[1].Playing, float64(dba), level.EarHeightM, ringPoints)
		reachM, from := 0.0, ""
		for k := range first {
			ring := first[k]
			if areaM2(last[k]) > areaM2(ring) {
				ring = last[k]
			}
			if len(ring) < 3 {
				continue
			}
			out := RingView{DBA: dba, Label: fmt.Sprintf("%d dBA ±%.0f", dba, math.Ceil(*take))}
			for _, p := range ring {
				out.Points = append(out.Points, plan(p.X, p.Y))
				stack := &l.Stadium.Stacks[k]
				if m := math.Hypot(p.X-stack.At.X, p.Y-stack.At.Y); m > reachM {
					reachM, from = m, stack.Name
				}
			}
			v.Rings = append(v.Rings, out)
		}
		if reachM == 0 {
			v.RingNote += fmt.Sprintf("No place at ear height reaches %d dBA in this estimate. ", dba)
		} else { // the page leaves out a ring that is too small to see
			v.RingNote += fmt.Sprintf("%d dBA goes out to %.2g m, at %s. ", dba, reachM, from)
		}
	}
	v.RingNote += caution
}

// areaM2 is the area that a ring encloses in plan.
func areaM2(ring []layout.Point) (m2 float64) {
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		m2 += (p.X*q.Y - q.X*p.Y) / 2
	}
	return math.Abs(m2)
}
