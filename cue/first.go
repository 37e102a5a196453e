package cue

import (
	"encoding/json"
	"math"
	"slices"
)

// formerPanBy is what programs wrote in format 1 for a pan by stands.
const formerPanBy = "stand-fit"

// fromFirst makes a show that was read from a file of format 1 one of this format. Format 1 had no paths. The compiler
// added waypoints, which are snapshots of their own, with ids such as 12.1; their values held up to the next snapshot. Each
// becomes a knot of its cue. A channel that closed was muted at once, whatever the cue's fade.
func (s *Show) fromFirst(data []byte) error {
	var first struct {
		Cues []struct {
			Waypoint bool `json:"follow_on"`
		} `json:"cues"`
	}
	if err := json.Unmarshal(data, &first); err != nil {
		return err
	}
	s.Format, s.Rig.Delay.Moves = Format, Stepped
	if s.Rig.Delay.PanBy == formerPanBy {
		s.Rig.Delay.PanBy = "stands"
	}
	row := s.Rig.RowOfStacks()
	var cues []Snapshot
	fits := waypointFits{}
	for i := range s.Cues {
		x := s.Cues[i]
		x.place(row)
		endS := s.EndS
		if i+1 < len(s.Cues) {
			endS = s.Cues[i+1].TimeS
		}
		holdsS := max(endS-x.TimeS, 0)
		if first.Cues[i].Waypoint && len(cues) > 0 {
			cues[len(cues)-1].fold(&x, fits, holdsS)
			continue
		}
		if i > 0 && x.FadeOut == nil && x.FadeCounts > 0 && x.closesAfter(&s.Cues[i-1]) {
			x.FadeOut = &FadeTime{}
		}
		cues, fits = append(cues, x), waypointFits{}
		for j := range x.Channels {
			fits[x.Channels[j].Channel] = holdsS
		}
	}
	if s.Cues != nil {
		s.Cues = slices.Clip(cues)
	}
	return nil
}

// closesAfter reports whether a channel closes that was open in the snapshot before.
func (s *Snapshot) closesAfter(before *Snapshot) bool {
	return slices.ContainsFunc(before.Channels, func(was Channel) bool {
		return was.Open && slices.ContainsFunc(s.Channels, func(c Channel) bool {
			return c.Channel == was.Channel && !c.Open
		})
	})
}

// waypointFits is for how long a channel's fit holds so far, in seconds, by the channel's number.
type waypointFits map[int]float64

// fold makes a waypoint a part of its cue.
func (s *Snapshot) fold(waypoint *Snapshot, fits waypointFits, holdsS float64) {
	for i := range waypoint.Channels {
		to := &waypoint.Channels[i]
		n := slices.IndexFunc(s.Channels, func(c Channel) bool { return c.Channel == to.Channel })
		if n < 0 {
			continue
		}
		c := &s.Channels[n]
		c.End = to.End
		if !c.Open || !to.Open {
			continue
		}
		k := Knot{
			Movement: waypoint.Movement, Count: waypoint.Count, TimeS: waypoint.TimeS,
			DelayMS: to.DelayMS, Pan: to.Pan, Place: to.Place,
		}
		before := s.GlideAt(c, math.Inf(1), Stepped, nil)
		if to.LevelDB != before.LevelDB {
			k.LevelDB = &to.LevelDB
		}
		if k.after(before) != before {
			c.Glide = append(c.Glide, k)
		}
		for _, note := range to.Notes {
			if !slices.Contains(c.Notes, note) {
				c.Notes = append(c.Notes, note)
			}
		}
		if c.Fit != nil && to.Fit != nil {
			c.Fit.add(to.Fit, fits[c.Channel], holdsS)
		}
		fits[c.Channel] += holdsS
	}
}

// add makes a fit that held for some seconds one of a longer time. The median is the mean of both, since the seats' own
// arrival gaps are not in the file.
func (f *SeatFit) add(o *SeatFit, holdsS, oS float64) {
	if !(holdsS+oS > 0) {
		return
	}
	mean := func(v *float64, w float64) { *v = (*v*holdsS + w*oS) / (holdsS + oS) }
	mean(&f.InTime, o.InTime)
	mean(&f.Early, o.Early)
	mean(&f.Late, o.Late)
	mean(&f.MedianMS, o.MedianMS)
	f.WorstEarlyMS, f.WorstLateMS = max(f.WorstEarlyMS, o.WorstEarlyMS), max(f.WorstLateMS, o.WorstLateMS)
}

// place gives channels with sends the place along the row of stacks that has such sends: format 1 fed one stack, or two
// neighbors at constant power.
func (s *Snapshot) place(row []int) {
	for i := range s.Channels {
		c := &s.Channels[i]
		if len(c.Sends) == 0 || c.Place != nil {
			continue
		}
		for k, zone := range row {
			n := slices.IndexFunc(c.Sends, func(x Send) bool { return x.Zone == zone })
			if n < 0 || c.Sends[n].LevelDB == Silent {
				continue
			}
			place := float64(k)
			if k+1 < len(row) {
				next := slices.IndexFunc(c.Sends, func(x Send) bool { return x.Zone == row[k+1] })
				if next >= 0 && c.Sends[next].LevelDB != Silent {
					apartDB := float64(c.Sends[next].LevelDB - c.Sends[n].LevelDB)
					place += math.Atan(math.Pow(10, apartDB/20)) / (math.Pi / 2)
				}
			}
			c.Place = &place
			break
		}
	}
}
