// Package nights compares a show over several nights: the same cues, compiled for several venues or temperatures. It says
// where the delays lie furthest apart and what that does to the fit. It compiles nothing itself.
package nights

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"backfield/cue"
)

// Most is how many nights can be compared: each has a letter.
const Most = 26

// Night is the show compiled for one venue and one air.
type Night struct {
	Label string
	Show  *cue.Show
}

// New is a night whose label names where it is and how warm. venue is the path of the venue file, empty for the bare rig.
func New(s *cue.Show, venue string) Night {
	where := s.Venue
	if where == "" {
		where = strings.TrimSuffix(filepath.Base(venue), filepath.Ext(venue))
	}
	if where == "" || where == "." {
		where = "rig"
	}
	return Night{fmt.Sprintf("%s, %.4g C", where, s.AirC), s}
}

// Row is the channel of one player or fixed mic over all nights: where its delays lie furthest apart, and its mean share
// of seats inside the window in each night.
type MicRow struct {
	Channel  int        `json:"channel"`
	Player   string     `json:"player"`
	Cue      string     `json:"cue"` // where the delays lie furthest apart
	SpreadMS float64    `json:"spread_ms"`
	DelayMS  []*float64 `json:"delay_ms"` // a night each; null where the mic is not open
	InTime   []*float64 `json:"inside"`   // a night each; null without a stand
}

// mic is what a row is about: one player or fixed mic on one channel.
type micID struct {
	channel int
	player  string
}

// Compare makes the rows of all mics that are open on any night, the furthest apart first, then by channel.
func Compare(nights []Night) []MicRow {
	var list []MicRow
	for _, m := range mics(nights) {
		row := widest(nights, m)
		for _, n := range nights {
			row.InTime = append(row.InTime, meanInTime(n.Show, m))
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

// widest is the row of a mic with the cue of the first night in which its delays lie furthest apart, the first of several
// that are equal. A mic that is open in follow-ons or on other nights only has no such cue, and no delays.
func widest(nights []Night, m micID) MicRow {
	const equalMS = 1e-9
	row := MicRow{Channel: m.channel, Player: m.player, DelayMS: make([]*float64, len(nights))}
	spreadMS := -1.0
	for i := range nights[0].Show.Cues {
		s := &nights[0].Show.Cues[i]
		if s.Waypoint || delayIn(s, m) == nil {
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

// delayIn is the delay of a mic in a cue, nil where it is not open then.
func delayIn(s *cue.Snapshot, m micID) *float64 {
	for i := range s.Channels {
		if ch := &s.Channels[i]; ch.Channel == m.channel && ch.Player == m.player && ch.Open {
			return &ch.DelayMS
		}
	}
	return nil
}

// meanInside is the mean share of seats inside the window over the snapshots in which a mic is open, to four digits; nil
// where there is none, or no stand.
func meanInTime(s *cue.Show, m micID) *float64 {
	sum, count := 0.0, 0.0
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			if ch.Open && ch.Fit != nil && ch.Channel == m.channel && ch.Player == m.player {
				sum += ch.Fit.InTime
				count++
			}
		}
	}
	if count == 0 {
		return nil
	}
	share := math.Round(1e4*sum/count) / 1e4
	return &share
}
