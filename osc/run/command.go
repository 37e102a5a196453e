package run

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/osc/typed"
)

// Verb is the first word of a command.
type Verb string

// The verbs, as the operator types them.
const (
	Go      Verb = "go"      // the next cue
	Back    Verb = "back"    // undo the last go or jump
	Jump    Verb = "jump"    // straight to a cue or a count
	Hush    Verb = "hush"    // close every worn mic at once
	Unhush  Verb = "unhush"  // open what the current cue has open
	Only    Verb = "only"    // open one mic alone until the next command
	Hold    Verb = "hold"    // freeze a channel, whatever the cues say
	Release Verb = "release" // return a held or manual channel to the cues
	Ack     Verb = "ack"     // a channel that was opened at the mixer may stay open
	Resend  Verb = "resend"  // send everything again
	Swap    Verb = "swap"    // use a spare channel for a dead pack
	Nudge   Verb = "nudge"   // change a level for this run
	Start   Verb = "start"   // run the show clock
	Stop    Verb = "stop"    // stop the show clock
	Status  Verb = "status"
	Quit    Verb = "quit"

	// TakeOver has this laptop send to the mixers instead of the other one of a pair, or go on after both have stopped.
	TakeOver Verb = "takeover"
)

// Command is what an operator typed, or what a page or another machine sent.
type Command struct {
	Verb    Verb
	Name    string  // a player, a fixed mic or a channel number; for Jump: a cue or a count
	Channel int     // for Swap: the spare's channel, 0 to undo the swap
	DB      float64 // for Nudge: the change in level
	Sure    bool    // for Only: close what a cue has open
	From    string  // the page or machine that sent it; empty for the operator

	// Next is the id of the next cue on the screen of whoever sent a Go or Back, "" at the end of the show. If the run
	// has another next cue by now, someone else was faster, and the command is refused. nil skips this check.
	Next *string
}

// forms lists how each verb is typed: an example, and the function that reads the words after the verb.
var forms = []struct {
	verb Verb
	text string
	read func(c *Command, words []string) error
}{
	{Go, "go", goWords}, {Back, "back", noWords},
	{Jump, "jump 12A   (or: jump 2:33, jump set 14 + 4)", nameWords},
	{Hush, "hush", noWords}, {Unhush, "unhush", noWords},
	{Only, `only "Tpt 3"   (while a cue plays: only "Tpt 3" yes)`, onlyWords}, {Hold, `hold "Tpt 3"`, nameWords},
	{Release, `release "Tpt 3"   (or: release all)`, nameWords},
	{Ack, `ack "Tpt 3"`, nameWords}, {Resend, "resend", noWords},
	{Swap, `swap "Tpt 3" to 21   (or: swap "Tpt 3" back)`, swapWords},
	{Nudge, `nudge "Tpt 3" +1.5`, nudgeWords},
	{Start, "start", noWords}, {Stop, "stop", noWords}, {Status, "status", noWords}, {Quit, "quit", noWords},
	{TakeOver, "takeover", noWords},
}

// renamed maps the verbs of earlier versions to the current ones.
var renamed = map[Verb]Verb{"to": Jump, "restore": Unhush}

// habits maps words of other programs to what to type here. None of them is taken for a command: in the middle of a show
// a guess would change the sound.
var habits = map[string]string{
	"next": "go", "prev": "back", "previous": "back", "undo": "back", "exit": "quit", "q": "quit",
	"panic": "hush (it closes every worn mic)", "mute": "hush (it closes every worn mic)",
	"cue": "jump 5 (for cue 5)", "goto": "jump 5 (for cue 5)",
}

// errNotUnderstood stands for words that do not fit the verb. Parse replaces it with the way to type the command.
var errNotUnderstood = errors.New("not understood")

func noWords(_ *Command, words []string) error {
	if len(words) > 0 {
		return errNotUnderstood
	}
	return nil
}

func nameWords(c *Command, words []string) error {
	if c.Name = strings.Join(words, " "); c.Name == "" {
		return errNotUnderstood
	}
	return nil
}

// onlyWords reads a name, and yes after it.
func onlyWords(c *Command, words []string) error {
	if n := len(words); n > 1 && strings.EqualFold(words[n-1], "yes") {
		c.Sure, words = true, words[:n-1]
	}
	return nameWords(c, words)
}

// goWords reads no words. A cue after go is a jump.
func goWords(_ *Command, words []string) error {
	if len(words) > 0 {
		return fmt.Errorf("go is for the next cue; to go straight to a cue, type: jump %s", strings.Join(words, " "))
	}
	return nil
}

// swapWords reads a name and "to 21", "21" or "back".
func swapWords(c *Command, words []string) error {
	n := len(words)
	if n >= 2 && strings.EqualFold(words[n-1], "back") {
		return nameWords(c, words[:n-1])
	}
	if n < 2 {
		return errNotUnderstood
	}
	channel, err := strconv.Atoi(words[n-1])
	if err != nil || channel < 1 {
		return errNotUnderstood
	}
	if c.Channel = channel; strings.EqualFold(words[n-2], "to") {
		n--
	}
	return nameWords(c, words[:n-1])
}

// nudgeWords reads a name and a number of dB, with or without the unit.
func nudgeWords(c *Command, words []string) error {
	n := len(words)
	if n > 0 && strings.EqualFold(words[n-1], "dB") {
		n--
	}
	if n < 2 {
		return errNotUnderstood
	}
	number := strings.TrimSuffix(strings.TrimSuffix(words[n-1], "dB"), "db")
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return errNotUnderstood
	case v < -maxNudgeDB || v > maxNudgeDB:
		return fmt.Errorf("one nudge can be -%d to +%[1]d dB; nudge twice for more", maxNudgeDB)
	}
	c.DB = v
	return nameWords(c, words[:n-1])
}

// Forms lists how each command is typed.
func Forms() []string {
	var list []string
	for _, f := range forms {
		list = append(list, f.text)
	}
	return list
}

// Parse reads a command as it is typed. The verb may be in any case, and a name with spaces may be in quotes. The error
// says how to type the command.
func Parse(line string) (Command, error) {
	words, err := typed.Words(line)
	if err != nil {
		return Command{}, err
	}
	if len(words) == 0 {
		return Command{}, fmt.Errorf("no command; type %s", source.OneOf(verbs()))
	}
	c := Command{Verb: Verb(strings.ToLower(words[0]))}
	if now, ok := renamed[c.Verb]; ok {
		return Command{}, fmt.Errorf("the command %q is now %q", c.Verb, now)
	}
	for _, f := range forms {
		if f.verb != c.Verb {
			continue
		}
		err := f.read(&c, words[1:])
		switch {
		case errors.Is(err, errNotUnderstood):
			return Command{}, fmt.Errorf("cannot read %s; type it like this: %s", line, f.text)
		case err != nil:
			return Command{}, fmt.Errorf("%s: %w", line, err)
		}
		return c, nil
	}
	if say, ok := habits[string(c.Verb)]; ok {
		return Command{}, fmt.Errorf("no command %q; type %s", words[0], say)
	}
	return Command{}, fmt.Errorf("no command %q; the commands are %s", words[0], strings.Join(verbs(), ", "))
}

// maxNudgeDB limits one nudge, so that a slip of the finger cannot do much harm.
const maxNudgeDB = 12

// String is the command as Parse reads it.
func (c Command) String() string {
	name := typed.Name(c.Name)
	switch c.Verb {
	case Jump:
		return "jump " + c.Name
	case Only:
		if c.Sure {
			return "only " + name + " yes"
		}
		return "only " + name
	case Hold, Release, Ack:
		return string(c.Verb) + " " + name
	case Swap:
		if c.Channel == 0 {
			return fmt.Sprintf("swap %s back", name)
		}
		return fmt.Sprintf("swap %s to %d", name, c.Channel)
	case Nudge:
		return fmt.Sprintf("nudge %s %+g", name, c.DB)
	}
	return string(c.Verb)
}

func verbs() []string {
	var list []string
	for _, f := range forms {
		list = append(list, string(f.verb))
	}
	return list
}
