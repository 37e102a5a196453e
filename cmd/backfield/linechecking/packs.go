// Package linechecking is the line check of a show with real mixers: which packs there are and in which order, the
// channel that is open, the record next to the score, and rows of tonight.toml. What comes after which key is in
// osc/linecheck. The verb, the screen and the page drive it.
package linechecking

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout/source"
	"backfield/osc/linecheck"
	"backfield/osc/mixer"
)

// Orders are the orders in which packs can be checked.
var Orders = []string{ByPlace, ByPack}

// The orders.
const (
	ByPlace = "place" // as people stand at the first set, from side 1 to side 2
	ByPack  = "pack"  // as the packs are labeled
)

// checked is a pack and where its player stands.
type checked struct {
	linecheck.CheckedPack
	xM, yM float64 // not numbers where the place is unknown
}

// Packs lists the packs of a show in an order. A pack that several players wear in turn is listed once, with the player
// who wears it first.
func Packs(s *show.Loaded, order string) (list []linecheck.CheckedPack) {
	var all []checked
	wears := s.Lines.Wears(s.Clock.End())
	slices.SortStableFunc(wears, func(a, b timeline.LineWear) int {
		return cmp.Or(cmp.Compare(a.Channel, b.Channel), cmp.Compare(s.Clock.Seconds(a.From), s.Clock.Seconds(b.From)))
	})
	for _, w := range wears {
		if n := len(all); n > 0 && all[n-1].Channel == w.Channel {
			all[n-1].later(s, w)
			continue
		}
		all = append(all, newChecked(s, w))
	}
	slices.SortStableFunc(all, func(a, b checked) int {
		if order == ByPack {
			return compareLabels(a.Pack, b.Pack)
		}
		return cmp.Or(compareKnown(a.xM, b.xM), compareKnown(a.yM, b.yM))
	})
	for _, p := range all {
		list = append(list, p.CheckedPack)
	}
	return list
}

func newChecked(s *show.Loaded, w timeline.LineWear) checked {
	p := checked{CheckedPack: linecheck.CheckedPack{
		Pack: w.Pack, Channel: w.Channel, Player: w.Player, Section: w.Section,
	}, xM: math.NaN(), yM: math.NaN()}
	if at, ok := s.Where(w.Player, s.Clock.At(0)); ok {
		p.Where, p.xM, p.yM = s.Drill.Field.Dot(at), at.X, at.Y
	}
	if isNumber(w.MicAt) { // a cell, not the place of a row without one
		p.Mic = fmt.Sprintf("mic %.4g cm from the bell", w.MicM*100)
	}
	return p
}

// isNumber reports whether a place in a file has a number.
func isNumber(at source.Span) bool {
	if at.File == nil {
		return false
	}
	_, err := strconv.ParseFloat(strings.TrimSpace(at.File.Text[at.Start:at.End]), 64)
	return err == nil
}

// later notes who gets the pack during the show.
func (p *checked) later(s *show.Loaded, w timeline.LineWear) {
	if p.Later != "" {
		p.Later += ", "
	}
	at := fmt.Sprintf("%d:%.4g", w.From.Movement, w.From.Count())
	if set := s.Clock.Set(w.From); set != "" {
		at = "set " + set
	}
	p.Later += fmt.Sprintf("%s from %s", w.Player, at)
}

// compareKnown puts unknown numbers last.
func compareKnown(a, b float64) int {
	if math.IsNaN(a) || math.IsNaN(b) {
		switch {
		case !math.IsNaN(a):
			return -1
		case !math.IsNaN(b):
			return 1
		}
		return 0
	}
	return cmp.Compare(a, b)
}

// compareLabels puts P2 before P10, and packs without a label last.
func compareLabels(a, b string) int {
	if a == "" || b == "" {
		return cmp.Compare(len(b), len(a))
	}
	for len(a) > 0 && len(b) > 0 {
		m, n := digits(a), digits(b)
		if m > 0 && n > 0 {
			x, y := trimZeros(a[:m]), trimZeros(b[:n])
			if c := cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y)); c != 0 {
				return c
			}
			a, b = a[m:], b[n:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits is how many digits a text begins with.
func digits(text string) (n int) {
	for n < len(text) && text[n] >= '0' && text[n] <= '9' {
		n++
	}
	return n
}

func trimZeros(number string) string {
	for len(number) > 1 && number[0] == '0' {
		number = number[1:]
	}
	return number
}

// closedCue is the cue in which every channel is closed.
const closedCue = "closed"

// openCue is the cue that opens a channel alone.
func openCue(channel int) string { return fmt.Sprint("open ", channel) }

// scenes is a show of one cue for each pack, which has its channel open at a level and every other channel of the show
// closed, and one cue with all closed. So the run's engine can do the line check: it closes before it opens, sends again
// what is lost, and says what the mixers have confirmed. Pan, delay and all else are those of the show's first cue.
func scenes(s *show.Loaded, packs []linecheck.CheckedPack, levelDB float64) *cue.Show {
	all := *s.Show
	closed := cue.Snapshot{ID: closedCue, Movement: 1, Count: 1}
	if len(s.Show.Cues) > 0 {
		closed.Channels = slices.Clone(s.Show.Cues[0].Channels)
	}
	for i := range closed.Channels {
		c := &closed.Channels[i]
		c.Open, c.Role, c.LevelDB, c.Glide, c.Early, c.SceneMS = false, "", cue.Silent, nil, nil, nil
	}
	for _, p := range packs {
		if !slices.ContainsFunc(closed.Channels, on(p.Channel)) {
			closed.Channels = append(closed.Channels, cue.Channel{
				Channel: p.Channel, Player: p.Player, Kind: cue.Worn, LevelDB: cue.Silent,
			})
		}
	}
	slices.SortFunc(closed.Channels, func(a, b cue.Channel) int { return a.Channel - b.Channel })
	all.Cues = []cue.Snapshot{closed}
	for _, p := range packs {
		open := closed
		open.ID, open.Channels = openCue(p.Channel), slices.Clone(closed.Channels)
		c := &open.Channels[slices.IndexFunc(open.Channels, on(p.Channel))]
		c.Open, c.Role, c.Player = true, "line check", p.Player
		c.LevelDB = cue.Level(levelOf(s.Mixer, p.Channel, levelDB))
		all.Cues = append(all.Cues, open)
	}
	return &all
}

func on(channel int) func(cue.Channel) bool {
	return func(c cue.Channel) bool { return c.Channel == channel }
}

// levelOf is the level at which a channel opens: the one that was asked for, or its ceiling.
func levelOf(d *mixer.Mixer, channel int, levelDB float64) float64 {
	return min(levelDB, d.CeilingDB(channel), d.Limits(cue.ParamLevel).Max)
}
