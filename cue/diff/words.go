package diff

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cue"
	"backfield/cue/step"
	"backfield/layout/source"
)

func count(n int, what string) string { return source.Count(float64(n), what) }

func counts(v float64) string {
	if v == 1 {
		return "1 count"
	}
	return number(v, 0) + " counts"
}

// number prints v with at least the given decimals, and up to four if it has them.
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

func ownWords(x cue.MixerParam, old, new float64) string {
	if x.Switch {
		return fmt.Sprintf("%s %s -> %s", x.Name, x.ValueText(old), x.ValueText(new))
	}
	return fmt.Sprintf("%s %s -> %s (%s)", x.Name, number(old, 0), x.ValueText(new), signed(new-old, 0))
}

func sameMessages(a, b []cue.Extra) bool { return slices.EqualFunc(a, b, cue.Extra.Equal) }

// extraWords says what differs in a cue's extra messages; nil if nothing does.
func extraWords(s *step.Step) []string {
	if sameMessages(s.WasAlso, s.Also) {
		return nil
	}
	list := func(all []cue.Extra) string {
		var words []string
		for _, r := range all {
			words = append(words, r.String())
		}
		return strings.Join(words, ", ")
	}
	switch {
	case len(s.WasAlso) == 0:
		return []string{"extra messages: " + list(s.Also)}
	case len(s.Also) == 0:
		return []string{"no extra messages (was " + list(s.WasAlso) + ")"}
	}
	return []string{fmt.Sprintf("extra messages: %s (was %s)", list(s.Also), list(s.WasAlso))}
}

func panWords(old, new float64) string {
	return fmt.Sprintf("pan %s (%s -> %s)", farther(new-old), side(old), side(new))
}

func farther(by float64) string {
	if by < 0 {
		return number(-by, 2) + " farther left"
	}
	return number(by, 2) + " farther right"
}

func side(pan float64) string {
	switch {
	case pan < 0:
		return "L " + number(-pan, 2)
	case pan > 0:
		return "R " + number(pan, 2)
	}
	return "center"
}

func openedWords(c *cue.Channel, own []cue.MixerParam) string {
	as, with := "", ""
	if c.Role != "" {
		as = " as " + c.Role
	}
	for _, x := range own {
		if v, ok := c.Value(x.Name); ok {
			with += fmt.Sprintf(", %s %s", x.Name, x.ValueText(v))
		}
	}
	level, delayMS := number(float64(c.LevelDB), 1), number(c.DelayMS, 1)
	return fmt.Sprintf("opened%s at %s dB, pan %s, delay %s ms%s", as, level, side(c.Pan), delayMS, with)
}

func playerWords(old, new string) string {
	switch {
	case new == "":
		return "worn by nobody now, was " + old
	case old == "":
		return "worn by " + new + " now, was nobody"
	}
	return fmt.Sprintf("pack handed over, %s -> %s", old, new)
}

func roleWords(old, new string) string {
	return fmt.Sprintf("role %s -> %s", orNone(old), orNone(new))
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// moment is the movement and count of a cue: "2:49".
func moment(s *cue.Snapshot) string {
	return fmt.Sprintf("%d:%s", s.Movement, number(s.Count, 0))
}

// timeWords says how many counts earlier or later a cue comes, or how many seconds if its count is the same.
func timeWords(old, new *cue.Snapshot) string {
	way := func(by float64) string {
		if by < 0 {
			return "earlier"
		}
		return "later"
	}
	switch by := new.Count - old.Count; {
	case old.Movement != new.Movement:
		return fmt.Sprintf("is in another movement (%s -> %s)", moment(old), moment(new))
	case by != 0:
		return fmt.Sprintf("comes %s %s (%s -> %s)", counts(math.Abs(by)), way(by), moment(old), moment(new))
	}
	if by := new.TimeS - old.TimeS; math.Abs(by) >= leastS {
		return fmt.Sprintf("comes %.1f s %s at the same count (tempo or pauses)", math.Abs(by), way(by))
	}
	return ""
}

func fadeWords(old, new *cue.Snapshot) string {
	if old.FadeOut != nil || new.FadeOut != nil {
		was, is := old.FadeWords(true), new.FadeWords(true)
		if was == is {
			return ""
		}
		return fmt.Sprintf("%s -> %s", cmp.Or(was, "no fade"), cmp.Or(is, "no fade"))
	}
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

// orderWords says after which cue a cue comes that changed its place in the order.
func orderWords(old, new []cue.Snapshot, p cuePair) string {
	after := func(list []cue.Snapshot, i int) string {
		if i == 0 {
			return "first"
		}
		return "after cue " + list[i-1].ID
	}
	return fmt.Sprintf("is in another place: now %s, was %s", after(new, p.new), after(old, p.old))
}

// opens lists who is open in a cue, from the step that goes there from nothing.
func opens(s *step.Step) string {
	if len(s.Open()) == 0 {
		return "opens nobody"
	}
	return "opens " + strings.Join(step.Names(s.Open()), ", ")
}

// earlyWords says what a cue now opens before the next one, or no longer.
func earlyWords(old, new *cue.Snapshot) (notes []string) {
	was := map[int]*cue.EarlyOpening{}
	for i := range old.Channels {
		was[old.Channels[i].Channel] = old.Channels[i].Early
	}
	for i := range new.Channels {
		c := &new.Channels[i]
		before, now := was[c.Channel], c.Early
		delete(was, c.Channel)
		switch {
		case now != nil && (before == nil || *before != *now):
			notes = append(notes, fmt.Sprintf("opens %s early for the next cue, at %d:%s", now.Player,
				now.Movement, number(now.Count, 2)))
		case now == nil && before != nil:
			notes = append(notes, fmt.Sprintf("no longer opens %s early for the next cue", before.Player))
		}
	}
	return notes
}
