package step

import (
	"fmt"
	"strings"
)

// Line is one thing that a step does, in words.
type Line struct {
	About About
	Text  string
}

// About says what a line is about, for those who sort lines or mark them. Lines come in this order.
type About string

// What a line may be about.
const (
	AboutOpens    About = "opens"    // "opens Tpt 3, Tpt 4"
	AboutCloses   About = "closes"   // "closes Bari 1, Bari 2"
	AboutHands    About = "hands"    // "Tpt 1 hands channel 1 to Bari 1"
	AboutSwitches About = "switches" // "Tpt 1 switches from channel 1 to channel 2"
	AboutLevels   About = "levels"   // "Mello 1 -9 to 0 dB, Mello 2 now feature"
	AboutSettings About = "settings" // "presence 5.5 dB: Tpt 1, Tpt 4"
	AboutMoves    About = "moves"    // "moves 12": the open channels whose pan, delay or sends change
	AboutSends    About = "sends"    // "sends /fx/2/mute i 1"
)

// Lines says what the step does, at most one line for each of what lines are about, but one for each handover, each
// switch and each setting. It is empty where nobody could hear or see a difference (Nothing).
func (s *Step) Lines() []Line {
	var lines []Line
	say := func(about About, text string) { lines = append(lines, Line{about, text}) }
	if list := s.Opens(); len(list) > 0 {
		say(AboutOpens, "opens "+strings.Join(Names(list), ", "))
	}
	if list := s.Closes(); len(list) > 0 {
		say(AboutCloses, "closes "+strings.Join(Names(list), ", "))
	}
	for _, c := range s.Hands() {
		say(AboutHands, c.Handover())
	}
	for _, c := range s.Switches() {
		say(AboutSwitches, c.Switch())
	}
	if list := s.Leveled(); len(list) > 0 {
		say(AboutLevels, words(list, (*Channel).LevelWords))
	}
	for _, x := range s.Settings() {
		say(AboutSettings, x.String())
	}
	if list := s.Moved(); len(list) > 0 {
		say(AboutMoves, fmt.Sprintf("moves %d", len(list)))
	}
	if len(s.Also) > 0 {
		say(AboutSends, "sends "+strings.Join(s.Messages(), ", "))
	}
	return lines
}

// String is all lines in one: "opens Tpt 3; closes Bari 1, Bari 2; Mello 1 -9 to 0 dB; moves 12".
func (s *Step) String() string {
	var parts []string
	for _, l := range s.Lines() {
		parts = append(parts, l.Text)
	}
	return strings.Join(parts, "; ")
}

// Names lists whom channels are about (Channel.Player).
func Names(list []*Channel) []string {
	names := make([]string, len(list))
	for i, c := range list {
		names[i] = c.Player()
	}
	return names
}

// Handover says who hands an open channel to whom: "Tpt 1 hands channel 1 to Bari 1".
func (c *Channel) Handover() string {
	return fmt.Sprintf("%s hands channel %d to %s", c.Was.Player, c.Channel, c.Is.Player)
}

// Switch says which channels a player changes who stays open: "Tpt 1 switches from channel 1 to channel 2".
func (c *Channel) Switch() string {
	return fmt.Sprintf("%s switches from channel %d to channel %d", c.Is.Player, c.From, c.Channel)
}

// LevelWords says how the level of a channel changes that stays open: "Tpt 3 -9 to 0 dB"; where only the role is
// another, "Tpt 3 now support".
func (c *Channel) LevelWords() string {
	if !c.Level {
		return c.Is.Player + " now " + c.Is.Role
	}
	return fmt.Sprintf("%s %.4g to %.4g dB", c.Is.Player, float64(c.Was.LevelDB), float64(c.Is.LevelDB))
}

// String is the setting in words: "presence 5.5 dB: Tpt 1, Tpt 4".
func (x Setting) String() string {
	return x.Own.Name + " " + x.Own.Words(x.To) + ": " + strings.Join(Names(x.Channels), ", ")
}

// Messages are the extra messages that are sent, each in a line ("/fx/2/mute i 1").
func (s *Step) Messages() []string {
	list := make([]string, len(s.Also))
	for i, r := range s.Also {
		list[i] = r.String()
	}
	return list
}

func words(list []*Channel, of func(*Channel) string) string {
	parts := make([]string, len(list))
	for i, c := range list {
		parts[i] = of(c)
	}
	return strings.Join(parts, ", ")
}
