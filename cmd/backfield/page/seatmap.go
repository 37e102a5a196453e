package page

import (
	"fmt"
	"math"
	"slices"

	"backfield/cmd/backfield/loudness"
	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/layout/level"
	"backfield/layout/level/advice"
)

// SeatMap is a figure at every seat, in classes.
type SeatMap struct {
	Title   string      `json:"title"`
	Note    string      `json:"note"`    // what else to know
	Why     string      `json:"why"`     // there is nothing to draw; "" where there is
	Held    bool        `json:"held"`    // the figure is there, and means nothing until noise and brass were measured
	Classes []SeatClass `json:"classes"` // from the least to the greatest figure
	Box     string      `json:"box"`     // the figure at the press box, and what it means there
	Seats   []int       `json:"seats"`   // the class of each of FieldView.Seats; -1: nothing to compare there
}

// SeatClass is a part of the seats that are drawn alike.
type SeatClass struct {
	Sign  string `json:"sign"`  // bad, between or good
	Words string `json:"words"` // "under 0 dB"
	Share string `json:"share"` // of the seats, and that with all values moved by give or take
}

const noStands = "the rig has no stands: the numbers of the press box are on the levels tab"

// The signs of the classes.
const (
	badSign     = "bad"
	betweenSign = "between"
	goodSign    = "good"
)

// bracket is where a class begins: at a value in dB, or just over it.
type bracket struct {
	fromDB float64
	over   bool
	SeatClass
}

func (b *bracket) holds(db float64) bool { return db > b.fromDB || !b.over && db == b.fromDB }

// leadMap is the lead, at the end of the cue at which the seats have less of it.
func leadMap(s *show.Loaded, l *balance.Loudness, c *balance.CueLoudness, r *loudness.LoudnessCue) SeatMap {
	m := SeatMap{Title: "lead over all others"}
	f, end := c.Heard.LeadAt(s.Setup.Score.Goals.SharePct)
	switch {
	case s.Setup.Seats == 0:
		m.Why = noStands
		return m
	case !f.OK:
		m.Why = "nobody is featured in this cue, or there is nothing to lead"
		return m
	}
	brackets := []bracket{{math.Inf(-1), false, SeatClass{Sign: badSign, Words: "under 0 dB"}},
		{0, false, SeatClass{Sign: goodSign, Words: "0 dB and over"}}}
	if w := r.WantedDB; w != nil && *w > 0 {
		brackets[1].SeatClass = SeatClass{Sign: betweenSign, Words: fmt.Sprintf("0 to the wanted %+.0f dB", *w)}
		brackets = append(brackets, bracket{*w, false, SeatClass{Sign: goodSign,
			Words: fmt.Sprintf("%+.0f dB and over", *w)}})
	} else if w != nil && *w < 0 {
		brackets[0].Words = fmt.Sprintf("under the wanted %+.0f dB", *w)
		brackets[1].fromDB, brackets[1].Words = *w, fmt.Sprintf("%+.0f dB and over", *w)
	}
	m.fill(l, c.Heard, end, r.GiveOrTake.LeadDB, brackets, (*level.PlaceSound).Lead)
	if r.LeadBoxDB != nil {
		m.Box = wholeDB(*r.LeadBoxDB)
	}
	return m
}

// overMap is how far the stacks are over the featured players' own sound, at the end of the cue at which that is more at
// the press box.
func overMap(s *show.Loaded, l *balance.Loudness, c *balance.CueLoudness, r *loudness.LoudnessCue) SeatMap {
	m := SeatMap{Title: "stacks over the player"}
	f, end := c.Heard.OverAtBox()
	take := r.GiveOrTake.OverDB
	switch {
	case s.Setup.Seats == 0:
		m.Why = noStands
		return m
	case !f.OK:
		m.Why = "nobody who is featured in this cue has both own sound and an open mic"
		return m
	case take == nil:
		m.Why, m.Held = "measure first: noise and brass", true
		return m
	}
	limit := s.Setup.Score.Goals.OverDB
	brackets := []bracket{{math.Inf(-1), false, SeatClass{Sign: goodSign,
		Words: fmt.Sprintf("up to %.0f dB: the player leads", limit)}}}
	if limit < advice.StackLeadsDB {
		brackets = append(brackets, bracket{limit, true, SeatClass{Sign: betweenSign,
			Words: fmt.Sprintf("to %d dB: pulled toward the stack", advice.StackLeadsDB)}})
	}
	brackets = append(brackets, bracket{max(limit, advice.StackLeadsDB), true, SeatClass{Sign: badSign,
		Words: fmt.Sprintf("over %.0f dB: the stack leads", max(limit, advice.StackLeadsDB))}})
	m.fill(l, c.Heard, end, *take, brackets, (*level.PlaceSound).Over)
	if r.OverBoxDB != nil {
		m.Box = fmt.Sprintf("%s, the player leads: %s", wholeDB(*r.OverBoxDB), r.PlayerLeads)
	}
	if r.InTimePct != nil {
		m.Note = "Means something only where the stacks come later: " + percent(*r.InTimePct/100) +
			" of seats are in time"
	}
	return m
}

// wholeDB is a difference in whole dB, with its sign.
func wholeDB(db float64) string {
	if math.Round(db) == 0 {
		return "0 dB"
	}
	return fmt.Sprintf("%+.0f dB", db)
}

// fill sorts the seats into classes. The share of a class is a range: the least and the most of it with all values moved
// by up to take.
func (m *SeatMap) fill(l *balance.Loudness, ends level.Ends, end int, takeDB float64, brackets []bracket,
	of func(*level.PlaceSound) level.Figure) {
	figures := make([]level.Figure, len(ends[end].Seats))
	for j := range figures {
		figures[j] = of(&ends[end].Seats[j])
	}
	classes := func(byDB float64) (list []int, shares []float64) {
		shares = make([]float64, len(brackets))
		total := 0.0
		for j, f := range figures {
			n, weight := -1, l.Stadium.Seats[j].Weight
			if total += weight; f.OK {
				for n = len(brackets) - 1; n > 0 && !brackets[n].holds(f.DB+byDB); n-- {
				}
				shares[n] += weight
			}
			list = append(list, n)
		}
		for n := range shares {
			shares[n] *= 100 / total
		}
		return list, shares
	}
	list, at := classes(0)
	m.Seats = list
	least, most := slices.Clone(at), slices.Clone(at)
	const moves = 10
	for k := -moves; k <= moves; k++ {
		_, moved := classes(takeDB * float64(k) / moves)
		for n, v := range moved {
			least[n], most[n] = min(least[n], v), max(most[n], v)
		}
	}
	for n := range brackets {
		c := brackets[n].SeatClass
		of := ""
		if n == 0 {
			of = " of seats"
		}
		c.Share = fmt.Sprintf("%.0f %%%s (%.0f to %.0f)", at[n], of, least[n], most[n])
		m.Classes = append(m.Classes, c)
	}
	when := "at the cue's start"
	if end > 0 {
		when = "when the next cue comes"
	}
	m.Title = fmt.Sprintf("%s %s, %s", m.Title, when, giveOrTake(takeDB))
}
