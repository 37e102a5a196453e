package compiled

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"backfield/cmd/backfield/publish"
	"backfield/cue"
)

// CSV is snapshots.csv, a row for each cue and channel. It has a column for each zone of the rig, and one for each of
// the mixer's own parameters.
func CSV(s *cue.Show) []byte {
	zones := zonesOf(s)
	head := []string{"cue", "at", "movement", "count", "time_s", "name", "fade_s", "fade_out_s",
		"channel", "player", "kind", "role", "open", "level_db", "pan", "delay_ms"}
	if len(zones) > 0 {
		head = append(head, "place")
	}
	head = append(head, "glide")
	for _, zone := range zones {
		head = append(head, fmt.Sprintf("zone_%d", zone))
	}
	for _, x := range s.Params {
		head = append(head, ownColumn(x))
	}
	head = append(head, "x_m", "y_m", "z_m")
	head = append(head, "served", "inside", "inside_no_echo", "early", "late", "echo", "box_least_ms", "box_most_ms")
	t := publish.NewTable(append(head, "notes")...)
	for _, c := range s.Cues {
		for i := range c.Channels {
			ch := &c.Channels[i]
			t.Row(slices.Concat(cueCells(&c), channelCells(ch), pathCells(ch, c.Movement, zones), sendCells(ch, zones),
				ownCells(ch, s.Params), placeCells(ch))...)
		}
	}
	return t.Bytes()
}

func cueCells(c *cue.Snapshot) []string {
	return []string{c.ID, c.At, strconv.Itoa(c.Movement), number(c.Count), number(c.TimeS), c.Name, number(c.FadeS),
		number(c.Closing().S)}
}

func channelCells(ch *cue.Channel) []string {
	open, level := "no", ""
	if ch.Open {
		open, level = "yes", number(float64(ch.LevelDB))
	}
	return []string{strconv.Itoa(ch.Channel), ch.Player, ch.Kind, ch.Role, open, level, number(ch.Pan),
		number(ch.DelayMS)}
}

// pathCells are the place, in a rig with zones, and the knots: "9:78.7:-0.14; 2:1:80:0.2" is 78.7 ms and a pan of -0.14
// at count 9, and 80 ms at count 1 of movement 2. With zones the place is in the place of the pan. A level that the path
// moves comes last.
func pathCells(ch *cue.Channel, movement int, zones []int) (cells []string) {
	if len(zones) > 0 {
		place := ""
		if ch.Place != nil {
			place = number(*ch.Place)
		}
		cells = append(cells, place)
	}
	var knots []string
	for _, k := range ch.Glide {
		var parts []string
		if k.Movement != movement {
			parts = append(parts, strconv.Itoa(k.Movement))
		}
		image := k.Pan
		if k.Place != nil {
			image = *k.Place
		}
		parts = append(parts, number(k.Count), number(k.DelayMS), number(image))
		if k.LevelDB != nil {
			parts = append(parts, number(float64(*k.LevelDB)))
		}
		knots = append(knots, strings.Join(parts, ":"))
	}
	return append(cells, strings.Join(knots, "; "))
}

// sendCells has a cell for each zone, empty if the channel sends nothing to it.
func sendCells(ch *cue.Channel, zones []int) []string {
	cells := make([]string, len(zones))
	for _, x := range ch.Sends {
		if x.LevelDB != cue.Silent {
			cells[slices.Index(zones, x.Zone)] = number(float64(x.LevelDB))
		}
	}
	return cells
}

// ownCells has a cell for each of the mixer's own parameters, empty if the channel has no value of it.
func ownCells(ch *cue.Channel, params []cue.MixerParam) []string {
	cells := make([]string, len(params))
	for i, x := range params {
		if v, ok := ch.Value(x.Name); ok && x.Switch {
			cells[i] = x.ValueText(v)
		} else if ok {
			cells[i] = number(v)
		}
	}
	return cells
}

func placeCells(ch *cue.Channel) []string {
	cells := append([]string{number(ch.X), number(ch.Y), number(ch.Z)}, shares(ch.Fit)...)
	return append(cells, strings.Join(ch.Notes, "; "))
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// ownColumn is the name of the column of one of the mixer's own parameters, with its unit.
func ownColumn(x cue.MixerParam) string {
	switch x.Unit {
	case "":
		return x.Name
	case "%":
		return x.Name + "_percent"
	}
	return x.Name + "_" + strings.ToLower(x.Unit)
}

// zonesOf lists the zones that the show has sends to, in ascending order.
func zonesOf(s *cue.Show) []int {
	all := map[int]bool{}
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			for _, x := range ch.Sends {
				all[x.Zone] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(all))
}

// shares are the cells of a fit, empty if there is none.
func shares(f *cue.SeatFit) []string {
	if f == nil {
		return make([]string, 8)
	}
	share := func(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }
	cells := []string{
		share(f.Served), share(f.InTime), share(f.NoEcho), share(f.Early), share(f.Late), share(f.Echo), "", "",
	}
	if b := f.BoxLateMS; b != nil {
		cells[6], cells[7] = number(b[0]), number(b[1])
	}
	return cells
}
