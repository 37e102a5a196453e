package remote

import (
	"fmt"
	"slices"
	"strings"

	"backfield/osc/feed"
	"backfield/osc/glance"
	"backfield/osc/run"
)

// tile is a channel of the show as a page draws it. A channel has its tile for the whole show, whether it is open or closed:
// after a swap the spare is on the tile of the channel that it stands in for.
type tile struct {
	Channel int    `json:"channel"` // of the show
	At      int    `json:"at"`      // at the mixer: the spare after a swap
	Player  string `json:"player"`
	Kind    string `json:"kind"`
	Role    string `json:"role"`
	Level   string `json:"level"`
	Mark    string `json:"mark"` // "?" for a level that is not confirmed, "~" for a fade
	Note    string `json:"note"`
	Sign    string `json:"sign"`
	Differs bool   `json:"differs"` // someone moved it at the mixer
	Open    bool   `json:"open"`    // in the show
	Release string `json:"release"` // what release does to it where someone moved it; empty for nothing
	Held    bool   `json:"held"`
	Nudge   string `json:"nudge"` // the nudges of this run, such as "+1 dB"; empty for none
}

// bench puts every channel of the show on its tile, and lists those outside the show that are open at a mixer.
func bench(channels []int, rows []run.ChannelRow) (tiles []tile, outside []tile) {
	for _, channel := range channels {
		t := tile{Channel: channel, At: channel, Sign: string(feed.ChannelWaiting), Mark: "?"}
		for _, r := range rows {
			if r.Own != channel || r.Sign == feed.ChannelOutside {
				continue
			}
			spare := r.Channel != channel
			if first := t.Level == ""; first || spare && !t.Differs || glance.Differs(r) {
				t = tileOf(channel, r)
			}
		}
		tiles = append(tiles, t)
	}
	for _, r := range rows {
		if r.Sign == feed.ChannelOutside || !slices.Contains(channels, r.Own) && glance.Differs(r) {
			outside = append(outside, tileOf(r.Channel, r))
		}
	}
	return tiles, outside
}

func tileOf(channel int, r run.ChannelRow) tile {
	level, mark := glance.LevelText(r)
	if glance.Differs(r) {
		level, mark = glance.NotedLevel(r)
	}
	t := tile{
		channel, r.Channel, r.Player, r.Kind, r.Role, level, strings.TrimSpace(mark), glance.Note(r), string(r.Sign),
		glance.Differs(r), r.ShowOpen, glance.ReleaseWords(r), r.Held, "",
	}
	if r.NudgeDB != 0 {
		t.Nudge = fmt.Sprintf("%+g dB", r.NudgeDB)
	}
	return t
}

// spares are the channels of the mixer that a player can be swapped to: the show does not use them, they stand in for no
// other channel, and they are not open at the mixer for something else.
func spares(channels []int, most int, rows []run.ChannelRow) []int {
	list := []int{}
	for n := 1; n <= most; n++ {
		taken := func(r run.ChannelRow) bool { return r.Channel == n && (r.Own != n || r.Sign == feed.ChannelOutside) }
		if !slices.Contains(channels, n) && !slices.ContainsFunc(rows, taken) {
			list = append(list, n)
		}
	}
	return list
}

// playerOn is who is on a channel of the show, or on its spare, at this moment. ok is false for a channel that has no tile.
func (h *hub) playerOn(channel int) (player string, ok bool) {
	v, running := h.run.View()
	if !running {
		return "", false
	}
	tiles, _ := bench(h.channels, v.Bench)
	for _, t := range tiles {
		if t.Channel == channel || t.At == channel {
			return t.Player, true
		}
	}
	return "", false
}
