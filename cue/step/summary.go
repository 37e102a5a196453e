package step

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Summary is what a step does, in words, as a list for each kind of change.
type Summary struct {
	Opens     []string   `json:"opens"`
	Closes    []string   `json:"closes"`
	Handovers []Handover `json:"hands"`
	Switches  []string   `json:"switches"` // "Tpt 1 switches from channel 1 to channel 2, 0 to -9 dB"
	Levels    []string   `json:"levels"`   // "Tpt 3 -9 to 0 dB"
	Steps     []LevelBy  `json:"-"`        // the same, of each: who is changed alike can be named as one
	Settings  []string   `json:"settings"` // "presence 5.5 dB: Tpt 1, Tpt 4"
	Moves     int        `json:"moves"`    // how many open channels change pan, delay or sends at once, with the cue
	Glides    int        `json:"glides"`   // how many move along their paths after it
	Also      []string   `json:"also"`     // the extra messages: "/room/2/mute i 1"
	Starts    []string   `json:"starts"`   // who starts to be heard: who opens, and who takes over an open channel
	Stops     []int      `json:"stops"`    // the channels whose player stops being heard: closed, or handed over
}

// LevelBy is how the level of a player changes, without the levels themselves: "down 9 dB".
type LevelBy struct{ Player, By string }

// Handover is an open channel that goes from one player to another.
type Handover struct {
	Channel int    `json:"channel"`
	From    string `json:"from"`
	To      string `json:"to"`
	Text    string `json:"text"` // "channel 1 goes from Tpt 1 to Bari 1, -9 to 0 dB"
}

// Summary puts the step into words.
func (s *Step) Summary() Summary {
	x := Summary{
		Opens: Names(s.Opens()), Closes: Names(s.Closes()), Moves: len(s.Moved()), Glides: len(s.Gliding()),
		Also: s.Messages(),
	}
	for i := range s.Channels {
		c := &s.Channels[i]
		if c.Starts() {
			x.Starts = append(x.Starts, c.Is.Player)
		}
		if c.Stops() {
			x.Stops = append(x.Stops, c.Channel)
		}
	}
	for _, c := range s.Handovers() {
		x.Handovers = append(x.Handovers, Handover{c.Channel, c.Was.Player, c.Is.Player, c.Handover()})
	}
	for _, c := range s.Switches() {
		x.Switches = append(x.Switches, c.Switch())
	}
	for _, c := range s.Leveled() {
		x.Levels = append(x.Levels, c.LevelWords())
		x.Steps = append(x.Steps, LevelBy{c.Is.Player, c.levelBy()})
	}
	for _, setting := range s.Settings() {
		x.Settings = append(x.Settings, setting.String())
	}
	return x
}

// Kinds are the changes, one text for each kind that there is: who opens; who closes; handovers and switches of
// channels; levels, settings and moves; extra messages. In one line: "opens Tpt 3; closes Bari 1, Bari 2; Mello 1 -9 to 0
// dB; 12 channels glide". There is none if nothing changes on open channels and nothing opens or closes.
func (x Summary) Kinds() []string {
	var hands, sound []string
	for _, h := range x.Handovers {
		hands = append(hands, h.Text)
	}
	if len(x.Levels) > 0 {
		sound = append(sound, strings.Join(x.Levels, ", "))
	}
	sound = append(sound, x.Settings...)
	if x.Moves > 0 {
		text := fmt.Sprintf("pan/delay on %d channels", x.Moves)
		if x.Moves == 1 {
			text = "pan/delay on 1 channel"
		}
		sound = append(sound, text)
	}
	switch x.Glides {
	case 0:
	case 1:
		sound = append(sound, "1 channel glides")
	default:
		sound = append(sound, fmt.Sprintf("%d channels glide", x.Glides))
	}
	var kinds []string
	add := func(what string, list []string, between string) {
		if len(list) > 0 {
			kinds = append(kinds, what+strings.Join(list, between))
		}
	}
	add("opens ", Shorthand(x.Opens), ", ")
	add("closes ", Shorthand(x.Closes), ", ")
	add("", append(hands, x.Switches...), "; ")
	add("", sound, "; ")
	add("sends ", x.Also, ", ")
	return kinds
}

// Shorthand shortens a list of names in which numbers follow the same word, and sorts these numbers: "Tpt 3", "Tpt 1" and
// "Bari 2" are "Tpt 1", "3" and "Bari 2".
func Shorthand(names []string) []string {
	var list []string
	for i := 0; i < len(names); {
		word, number := numbered(names[i])
		end, run := i+1, []int{number}
		for ; word != "" && end < len(names); end++ {
			next, number := numbered(names[end])
			if next != word {
				break
			}
			run = append(run, number)
		}
		if len(run) == 1 {
			list = append(list, names[i])
		} else {
			slices.Sort(run)
			for k, number := range run {
				run := strconv.Itoa(number)
				if k == 0 {
					run = word + run
				}
				list = append(list, run)
			}
		}
		i = end
	}
	return list
}

// numbered splits a name that ends in a number, as Backfield would write it, after a word: "Tpt 1". The word is empty for
// another name.
func numbered(name string) (word string, number int) {
	at := strings.LastIndexByte(name, ' ') + 1
	if n, err := strconv.Atoi(name[at:]); err == nil && strconv.Itoa(n) == name[at:] && n >= 0 {
		return name[:at], n
	}
	return "", 0
}

// Names lists who the changes are about (ChannelStep.Player).
func Names(list []*ChannelStep) []string {
	names := make([]string, len(list))
	for i, c := range list {
		names[i] = c.Player()
	}
	return names
}

// Handover says from whom to whom an open channel goes, and how its level changes: "channel 1 goes from Tpt 1 to Bari 1,
// -9 to 0 dB". If the second player was heard on another channel before, Switch says how their level changes.
func (c *ChannelStep) Handover() string {
	text := fmt.Sprintf("channel %d goes from %s to %s", c.Channel, c.Was.Player, c.Is.Player)
	if c.From == 0 && c.NewLevel() {
		text += ", " + c.fromTo()
	}
	return text
}

// Switch says from which channel an open player goes to which, and how their level changes, or the role if only that
// does: "Tpt 1 switches from channel 1 to channel 2, 0 to -9 dB".
func (c *ChannelStep) Switch() string { return c.Is.Player + " " + c.SwitchWords() }

// SwitchWords is Switch without the player's name.
func (c *ChannelStep) SwitchWords() string {
	text := fmt.Sprintf("switches from channel %d to channel %d", c.From, c.Channel)
	switch {
	case c.NewLevel():
		text += ", " + c.fromTo()
	case c.Before.Role != c.Is.Role:
		text += ", now " + c.Is.Role
	}
	return text
}

// fromTo is the level of a channel before and after: "-9 to 0 dB".
func (c *ChannelStep) fromTo() string {
	return fmt.Sprintf("%.4g to %.4g dB", float64(c.Before.LevelDB), float64(c.Is.LevelDB))
}

// LevelWords says how the level of an open channel changes: "Tpt 3 -9 to 0 dB"; or if only the role does, "Tpt 3 now
// support".
func (c *ChannelStep) LevelWords() string {
	if !c.Level {
		return c.Is.Player + " now " + c.Is.Role
	}
	return c.Is.Player + " " + c.fromTo()
}

// levelBy says by how much the level of an open channel changes: "down 9 dB"; or if only the role does, "now support".
func (c *ChannelStep) levelBy() string {
	up := float64(c.Is.LevelDB) - float64(c.Before.LevelDB)
	switch {
	case !c.Level:
		return "now " + c.Is.Role
	case up < 0:
		return fmt.Sprintf("down %.4g dB", -up)
	}
	return fmt.Sprintf("up %.4g dB", up)
}

// String is the setting in words: "presence 5.5 dB: Tpt 1, Tpt 4".
func (x ParamSetting) String() string {
	return x.Own.Name + " " + x.Own.ValueText(x.To) + ": " + strings.Join(Names(x.Channels), ", ")
}

// Messages are the extra messages, each in one line ("/room/2/mute i 1").
func (s *Step) Messages() []string {
	list := make([]string, len(s.Also))
	for i, r := range s.Also {
		list[i] = r.String()
	}
	return list
}
