package diff

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cue"
)

// Text writes the report for people: the summary, what holds for the whole show, then cue by cue the
// channels that differ, largest first, each with its reasons. It writes nothing where nothing differs on the
// desk.
func (r *Report) Text(w io.Writer) {
	if r.Same() {
		return
	}
	fmt.Fprintln(w, r.Summary)
	if len(r.Whole) > 0 {
		fmt.Fprintln(w, "\nwhole show")
		for _, c := range r.Whole {
			fmt.Fprintf(w, "  %s%s\n", c.Words, moves(c.Params))
		}
	}
	for _, c := range r.Cues {
		head := "cue " + c.ID
		if c.Name != "" {
			head += fmt.Sprintf(" %q", c.Name)
		}
		head += " (" + c.At + ")"
		if c.Status != Changed {
			head += " " + c.Status
		}
		fmt.Fprintf(w, "\n%s\n", head)
		for _, n := range c.Notes {
			fmt.Fprintf(w, "  %s\n", n)
		}
		r.channels(w, c.Channels)
	}
}

// moves tells what a cause can move, as "(delays, pans)".
func moves(params []string) string {
	if len(params) == 0 {
		return ""
	}
	return " (" + strings.Join(params, "s, ") + "s)"
}

// channels writes the channels of one cue, and how many move behind closed mics.
func (r *Report) channels(w io.Writer, list []Channel) {
	width := 0
	for _, c := range list {
		width = max(width, len([]rune(c.Player)))
	}
	waiting := 0
	for _, c := range list {
		shown := c.shown(r.Full)
		if len(shown) == 0 {
			waiting++
			continue
		}
		label := fmt.Sprintf("  %3d %-*s  ", c.Channel, width, c.Player)
		for _, group := range byReason(shown) {
			var words []string
			for _, x := range group {
				words = append(words, x.Words)
			}
			fmt.Fprintf(w, "%s%s\n", label, strings.Join(words, ", "))
			label = strings.Repeat(" ", 8+width)
			if why := group[0].Why; len(why) > 0 {
				fmt.Fprintf(w, "%s  why: %s\n", label, strings.Join(why, "; "))
			}
		}
	}
	if waiting > 0 {
		fmt.Fprintf(w, "  closed channels move: %d (pan/delay for their next entry)\n", waiting)
	}
}

// shown are the changes that Text lists: those that are heard, and the others where all is asked for. A
// change of role that shows in the level is the level's reason.
func (c Channel) shown(full bool) []Change {
	leveled := slices.ContainsFunc(c.Changes, func(x Change) bool { return x.Param == ParamLevel })
	var list []Change
	for _, x := range c.Changes {
		if x.Waiting && !full || x.Param == ParamRole && leveled {
			continue
		}
		list = append(list, x)
	}
	return list
}

// byReason joins neighbours that have the same reasons.
func byReason(changes []Change) [][]Change {
	var groups [][]Change
	for _, c := range changes {
		if last := len(groups) - 1; last >= 0 && slices.Equal(groups[last][0].Why, c.Why) {
			groups[last] = append(groups[last], c)
		} else {
			groups = append(groups, []Change{c})
		}
	}
	return groups
}

// summary is the report in one line.
func summary(r *Report) string {
	var changed, added, removed tally
	numbers := map[int]bool{}
	largest, where := Change{}, ""
	for _, c := range r.Cues {
		switch {
		case c.Status == Added:
			added.add(c)
		case c.Status == Removed:
			removed.add(c)
		case c.Desk:
			changed.add(c)
		}
		for _, ch := range c.Channels {
			for _, x := range ch.Changes {
				if x.Waiting || x.Param == ParamRole {
					continue
				}
				numbers[ch.Channel] = true
				if x.Size > largest.Size {
					largest, where = x, fmt.Sprintf("cue %s %s", c.ID, ch.Player)
				}
			}
		}
	}
	var parts []string
	switch what := changed.words(); {
	case len(what) > 0 && len(numbers) > 0:
		parts = append(parts, and(append(what, count(len(numbers), "channel")))+" differ")
	case changed.cues+changed.followOns == 1:
		parts = append(parts, and(what)+" differs")
	case len(what) > 0:
		parts = append(parts, and(what)+" differ")
	}
	if what := added.words(); len(what) > 0 {
		parts = append(parts, and(what)+" added")
	}
	if what := removed.words(); len(what) > 0 {
		parts = append(parts, and(what)+" removed")
	}
	if len(parts) == 0 {
		parts = append(parts, "the desk's channels differ")
	}
	if where != "" {
		parts = append(parts, "largest: "+where+" "+short(largest))
	}
	return strings.Join(parts, "; ")
}

// tally counts cues and, apart from them, the follow-ons that the compiler added.
type tally struct{ cues, followOns int }

func (t *tally) add(c Cue) {
	if c.FollowOn {
		t.followOns++
	} else {
		t.cues++
	}
}

// words are the parts of a tally that there are any of.
func (t tally) words() []string {
	var parts []string
	if t.cues > 0 {
		parts = append(parts, count(t.cues, "cue"))
	}
	if t.followOns > 0 {
		parts = append(parts, count(t.followOns, "follow-on"))
	}
	return parts
}

// and joins words as a sentence does.
func and(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func count(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

func counts(v float64) string {
	if v == 1 {
		return "1 count"
	}
	return number(v, 0) + " counts"
}

// short is a change as the summary tells it.
func short(c Change) string {
	switch by := float64(c.New - c.Old); c.Param {
	case ParamOpen:
		if c.New == 1 {
			return "opened"
		}
		return "closed"
	case ParamDelay:
		return "delay " + signed(by, 1) + " ms"
	case ParamLevel:
		return "level " + signed(by, 1) + " dB"
	case ParamPan:
		return "pan " + further(by)
	}
	return c.Words
}

// number prints v with at least the given decimals, and up to four where it has them.
func number(v float64, least int) string {
	if math.IsInf(v, -1) {
		return "-inf"
	}
	s := strconv.FormatFloat(v, 'f', 4, 64)
	for end := len(s) - (4 - least); len(s) > end && s[len(s)-1] == '0'; {
		s = s[:len(s)-1]
	}
	s = strings.TrimSuffix(s, ".")
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

func signed(v float64, least int) string {
	if v > 0 {
		return "+" + number(v, least)
	}
	return number(v, least)
}

func delayWords(old, new float64) string {
	return fmt.Sprintf("delay %s -> %s ms (%s)", number(old, 1), number(new, 1), signed(new-old, 1))
}

func levelWords(old, new cue.Level) string {
	a, b := float64(old), float64(new)
	if math.IsInf(a, 0) || math.IsInf(b, 0) {
		return fmt.Sprintf("level %s -> %s dB", number(a, 1), number(b, 1))
	}
	return fmt.Sprintf("level %s dB (%s -> %s)", signed(b-a, 1), number(a, 1), number(b, 1))
}

func sendWords(zone int, old, new cue.Level) string {
	words := func(l cue.Level) string {
		if l == cue.Silent {
			return "off"
		}
		return number(float64(l), 1)
	}
	return fmt.Sprintf("zone %d %s -> %s dB", zone, words(old), words(new))
}

func ownWords(x cue.Own, old, new float64) string {
	if x.Switch {
		return fmt.Sprintf("%s %s -> %s", x.Name, x.Words(old), x.Words(new))
	}
	return fmt.Sprintf("%s %s -> %s (%s)", x.Name, number(old, 0), x.Words(new), signed(new-old, 0))
}

// rawWords tells what differs of the messages that a cue sends besides.
func rawWords(old, new []cue.Raw) []string {
	if slices.EqualFunc(old, new, cue.Raw.Equal) {
		return nil
	}
	list := func(all []cue.Raw) string {
		var words []string
		for _, r := range all {
			words = append(words, r.String())
		}
		return strings.Join(words, ", ")
	}
	switch {
	case len(old) == 0:
		return []string{"sends besides: " + list(new)}
	case len(new) == 0:
		return []string{"sends nothing besides, was: " + list(old)}
	}
	return []string{fmt.Sprintf("sends besides: %s (was %s)", list(new), list(old))}
}

func panWords(old, new float64) string {
	return fmt.Sprintf("pan %s (%s -> %s)", further(new-old), side(old), side(new))
}

func further(by float64) string {
	if by < 0 {
		return number(-by, 2) + " further left"
	}
	return number(by, 2) + " further right"
}

func side(pan float64) string {
	switch {
	case pan < 0:
		return "L " + number(-pan, 2)
	case pan > 0:
		return "R " + number(pan, 2)
	}
	return "centre"
}

func openedWords(c *cue.Channel, own []cue.Own) string {
	as, with := "", ""
	if c.Role != "" {
		as = " as " + c.Role
	}
	for _, x := range own {
		if v, ok := c.Value(x.Name); ok {
			with += fmt.Sprintf(", %s %s", x.Name, x.Words(v))
		}
	}
	return fmt.Sprintf("opened%s at %s dB, pan %s, delay %s ms", as, number(float64(c.LevelDB), 1), side(c.Pan), number(c.DelayMS, 1)) + with
}

func playerWords(old, new string) string { return fmt.Sprintf("pack handed over, %s -> %s", old, new) }

func roleWords(old, new string) string {
	return fmt.Sprintf("role %s -> %s", orNone(old), orNone(new))
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// moment is a cue's place in the show: movement and count.
func moment(s *cue.Snapshot) string {
	return fmt.Sprintf("%d:%s", s.Movement, number(s.Count, 0))
}

// timeWords tells where in the music a cue went, or by how much its second moved at the same count.
func timeWords(old, new *cue.Snapshot) string {
	way := func(by float64) string {
		if by < 0 {
			return "earlier"
		}
		return "later"
	}
	switch by := new.Count - old.Count; {
	case old.Movement != new.Movement:
		return fmt.Sprintf("moves to another movement (%s -> %s)", moment(old), moment(new))
	case by != 0:
		return fmt.Sprintf("comes %s %s (%s -> %s)", counts(math.Abs(by)), way(by), moment(old), moment(new))
	}
	if by := new.TimeS - old.TimeS; math.Abs(by) >= 0.05 {
		return fmt.Sprintf("comes %.1f s %s on the same count (tempo or pauses)", math.Abs(by), way(by))
	}
	return ""
}

func fadeWords(old, new *cue.Snapshot) string {
	seconds := fmt.Sprintf("%s -> %s s", number(old.FadeS, 1), number(new.FadeS, 1))
	switch {
	case old.FadeCounts != new.FadeCounts:
		return fmt.Sprintf("fade %s -> %s (%s)", number(old.FadeCounts, 0), counts(new.FadeCounts), seconds)
	case old.FadeS != new.FadeS:
		return fmt.Sprintf("fade %s (the same %s: tempo)", seconds, counts(new.FadeCounts))
	}
	return ""
}

func nameWords(old, new *cue.Snapshot) string {
	if old.Name == new.Name {
		return ""
	}
	return fmt.Sprintf("renamed %q -> %q", old.Name, new.Name)
}

// orderWords tells between which cues a cue that changed its turn stands now.
func orderWords(old, new []cue.Snapshot, p pair) string {
	after := func(list []cue.Snapshot, i int) string {
		if i == 0 {
			return "first"
		}
		return "after cue " + list[i-1].ID
	}
	return fmt.Sprintf("comes in another order: now %s, was %s", after(new, p.new), after(old, p.old))
}

// opens lists who a cue opens.
func opens(s *cue.Snapshot) string {
	var who []string
	for _, c := range s.Channels {
		if c.Open {
			who = append(who, c.Player)
		}
	}
	if len(who) == 0 {
		return "opens nobody"
	}
	return "opens " + strings.Join(who, ", ")
}
