package paper

import (
	"fmt"
	"strconv"
	"strings"

	"backfield/cue"
	"backfield/cue/sheet"
)

// packLine is a line of the pack sheet: a pack, and its wearers in order of time.
type packLine struct {
	Pack    string
	Channel int
	Who     []sheet.PackUse
}

// Packs are the worn channels, each with its wearers in order of time.
func (p *Papers) Packs() []packLine {
	var list []packLine
	for _, w := range p.Wears {
		if n := len(list); n > 0 && list[n-1].Channel == w.Channel {
			list[n-1].Who = append(list[n-1].Who, w)
			if list[n-1].Pack == "" {
				list[n-1].Pack = w.Pack
			}
			continue
		}
		list = append(list, packLine{w.Pack, w.Channel, []sheet.PackUse{w}})
	}
	return list
}

// FreeChannels lists the mixer's channels that the show does not use: "21–40, 50".
func (p *Papers) FreeChannels() string {
	used := map[int]bool{}
	if len(p.Show.Show.Cues) > 0 {
		for _, c := range p.Show.Show.Cues[0].Channels {
			used[c.Channel] = true
		}
	}
	var parts []string
	for c := 1; c <= p.Show.Mixer.Channels; c++ {
		if used[c] {
			continue
		}
		from := c
		for c+1 <= p.Show.Mixer.Channels && !used[c+1] {
			c++
		}
		if from == c {
			parts = append(parts, strconv.Itoa(c))
		} else {
			parts = append(parts, fmt.Sprintf("%d–%d", from, c))
		}
	}
	return strings.Join(parts, ", ")
}

// Wearers is how many players the show opens in some cue.
func (p *Papers) Wearers() int {
	n := 0
	for _, chain := range p.Sharing.Packs {
		n += len(chain)
	}
	return n
}

// WornChannels is how many worn channels the show opens in some cue.
func (p *Papers) WornChannels() int {
	used := map[int]bool{}
	for _, b := range p.Bars {
		if b.Kind == cue.Worn {
			used[b.Channel] = true
		}
	}
	return len(used)
}

// Sets is how many sets of batteries the day needs.
func (p *Papers) Sets() int { return len(p.Batteries.Changes) * len(p.Packs()) }

// Far reports whether the two players of a handover are far apart, or at unknown places.
func (p *Papers) Far(apartM float64) bool { return !(apartM <= sheet.FarM) }

// Fast reports whether a handover has less time than check.handover in the score.
func (p *Papers) Fast(freeS float64) bool { return freeS < p.Show.Score.Rules.HandoverS }
