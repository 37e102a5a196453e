// Package nights compares a show over several nights: the same cues, compiled for several venues or temperatures. It
// finds where the delays are farthest apart and how many seats are in time. It compiles nothing itself.
package nights

import (
	"cmp"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/unit"
)

// Most is how many nights can be compared: each has a letter.
const Most = 26

// Night is the show compiled for one venue and one air.
type Night struct {
	Label string
	Show  *cue.Show
}

// New is a night whose label has the venue and the air. venue is the path of the venue file, empty for the rig without
// a venue.
func New(s *cue.Show, venue string) Night {
	where := s.Venue
	if where == "" {
		where = strings.TrimSuffix(filepath.Base(venue), filepath.Ext(venue))
	}
	if where == "" || where == "." {
		where = "rig"
	}
	return Night{where + ", " + unit.AirText(s.AirC), s}
}

// MicRow is one player or fixed mic over all nights: where its delays are farthest apart, and how it is for the seats
// on each night, over the time for which it is open: the shares in time, and in time without an echo, and the least and
// the greatest arrival gap at the press box.
type MicRow struct {
	Channel  int        `json:"channel"`
	Player   string     `json:"player"`
	Cue      string     `json:"cue"` // where the delays are farthest apart
	SpreadMS float64    `json:"spread_ms"`
	DelayMS  []*float64 `json:"delay_ms"` // one for each night; null if the mic is not open
	InTime   []*float64 `json:"in_time"`  // one for each night, 0 to 1; null without stands
	NoEcho   []*float64 `json:"no_echo"`  // the same

	BoxMS []*[2]float64 `json:"box_ms"` // one for each night; null if nothing is heard there, or without stands
}

// micID is what a row is about: one player or fixed mic on one channel.
type micID struct {
	channel int
	player  string
}

// Compare makes the rows of all mics that are open on any night, the largest spread first, then by channel.
func Compare(nights []Night) []MicRow {
	var list []MicRow
	for _, m := range mics(nights) {
		row := widest(nights, m)
		for _, n := range nights {
			inTime, noEcho, boxMS := figures(n.Show, m)
			row.InTime, row.NoEcho = append(row.InTime, inTime), append(row.NoEcho, noEcho)
			row.BoxMS = append(row.BoxMS, boxMS)
		}
		list = append(list, row)
	}
	slices.SortStableFunc(list, func(a, b MicRow) int {
		return cmp.Or(cmp.Compare(b.SpreadMS, a.SpreadMS), cmp.Compare(a.Channel, b.Channel))
	})
	return list
}

// mics lists the mics that are open on any night, in the order in which they first open.
func mics(nights []Night) []micID {
	var list []micID
	seen := map[micID]bool{}
	for _, n := range nights {
		for _, s := range n.Show.Cues {
			for _, ch := range s.Channels {
				if m := (micID{ch.Channel, ch.Player}); ch.Open && !seen[m] {
					seen[m] = true
					list = append(list, m)
				}
			}
		}
	}
	return list
}

// widest is the row of a mic with the cue of the first night in which its delays are farthest apart, the first of equal
// ones. A mic that is open only on other nights has no such cue, and no delays.
func widest(nights []Night, m micID) MicRow {
	const equalMS = 1e-9
	row := MicRow{Channel: m.channel, Player: m.player, DelayMS: make([]*float64, len(nights))}
	spreadMS := -1.0
	for i := range nights[0].Show.Cues {
		s := &nights[0].Show.Cues[i]
		if delayIn(s, m) == nil {
			continue
		}
		delays, lo, hi := make([]*float64, len(nights)), math.Inf(1), math.Inf(-1)
		for n, x := range nights {
			if other, ok := x.Show.Find(s.ID); ok {
				if v := delayIn(other, m); v != nil {
					delays[n], lo, hi = v, min(lo, *v), max(hi, *v)
				}
			}
		}
		if hi-lo > spreadMS+equalMS {
			spreadMS = math.Round((hi-lo)*100) / 100
			row.Cue, row.DelayMS, row.SpreadMS = s.ID, delays, spreadMS
		}
	}
	return row
}

// delayIn is the delay of a mic in a cue, nil if it is not open there.
func delayIn(s *cue.Snapshot, m micID) *float64 {
	for i := range s.Channels {
		if ch := &s.Channels[i]; ch.Channel == m.channel && ch.Player == m.player && ch.Open {
			return &ch.DelayMS
		}
	}
	return nil
}

// figures are the mean shares of seats of a mic over the time for which it is open, to four digits, and the least and
// the greatest arrival gap at the press box. They are nil if it is never open, or without stands.
func figures(s *cue.Show, m micID) (inTime, noEcho *float64, boxMS *[2]float64) {
	f, ok := s.MeanFitOf(func(ch *cue.Channel) bool {
		return ch.Open && ch.Channel == m.channel && ch.Player == m.player
	})
	if !ok {
		return nil, nil, nil
	}
	round := func(v float64) *float64 {
		v = math.Round(1e4*v) / 1e4
		return &v
	}
	return round(f.InTime), round(f.NoEcho), f.BoxMS
}
