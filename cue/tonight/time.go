package tonight

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/source"
	"backfield/layout/table"
)

var (
	// between separates the two ends of a cut.
	between      = regexp.MustCompile(`\s*\.\.+\s*|\s+to\s+`)
	movementForm = regexp.MustCompile(`^(?i:movement)\s+(\d{1,4})$`)
	setForm      = regexp.MustCompile(`^(?i:set)\s`)
)

// cuts are the parts of the show that are not played.
func (n *layer) cuts() []timeline.ScoreCut {
	var list []timeline.ScoreCut
	for _, text := range n.Cuts {
		if x, ok := n.cut(text); ok {
			list = append(list, x)
		}
	}
	if n.From.Set {
		at, text, ok := n.moment(n.From, n.From.V, false)
		if ok && (clock.Moment{Movement: 1}).Before(at) {
			list = append(list, timeline.ScoreCut{TimeCut: clock.TimeCut{From: clock.Moment{Movement: 1}, To: at},
				Resumes: text, Text: "from " + n.From.V, At: n.From.Span})
		}
	}
	return list
}

// cut reads "movement 2", "set 14 .. set 17" or "2:9 .. end".
func (n *layer) cut(text table.Text) (x timeline.ScoreCut, ok bool) {
	ends := between.Split(text.V, -1)
	if len(ends) > 2 || len(ends) == 1 && n.movement(ends[0]) == 0 {
		n.p.Add(badCut(text))
		return x, false
	}
	if len(n.clock.Movements) == 0 {
		return x, false
	}
	x = timeline.ScoreCut{Text: text.V, At: text.Span}
	first, last := ends[0], ends[len(ends)-1]
	from, _, ok := n.moment(text, first, false)
	to, resumes, ok2 := n.moment(text, last, true)
	if !ok || !ok2 {
		return x, false
	}
	x.From, x.To, x.Resumes = from, to, resumes
	x.Wait = n.movement(last) > 0
	if !x.From.Before(x.To) {
		n.p.Add(cutBackward(text))
		return x, false
	}
	return x, true
}

// movement is the number of a movement that is named by its number or its name, 0 for another text.
func (n *layer) movement(text string) int {
	if m := movementForm.FindStringSubmatch(text); m != nil {
		number, _ := strconv.Atoi(m[1])
		return number
	}
	for i, m := range n.clock.Movements {
		if m.Name != "" && strings.EqualFold(m.Name, text) {
			return i + 1
		}
	}
	return 0
}

// moment is one end of a cut. A movement begins with the silence before it, and ends with its last count. written is how
// the moment is written as a count.
func (n *layer) moment(at table.Text, text string, last bool) (m clock.Moment, written string, ok bool) {
	number, all := n.movement(text), len(n.clock.Movements)
	switch {
	case number > all:
		n.p.Add(noMovement(at, number, all))
		return m, "", false
	case strings.EqualFold(text, "end") || number == all && last:
		return n.clock.Last(), "the end", true
	case number > 0 && last:
		return clock.Moment{Movement: number + 1}, fmt.Sprintf("%d:1", number+1), true
	case number > 1:
		return clock.Moment{Movement: number - 1, Elapsed: n.clock.Movements[number-2].Counts}, "", true
	case number == 1:
		return clock.Moment{Movement: 1}, "", true
	}
	count, fault := clock.ParseShowCount(text)
	if fault != nil {
		n.p.Error("unreadable-count", at.Span, fault.What, fault.Do)
		return m, "", false
	}
	m, ok = timeline.MomentOf(n.old, n.clock, count, at.Span, n.p)
	return m, count.String(), ok
}

// InSet reports whether everybody stands in a set; else Standing is the name of a sheet of places.
func (t *NightPlan) InSet() bool { return setForm.MatchString(t.Standing.V) }

// standing is a drill without a step. own are those who stand where another would.
func (n *layer) standing(d *drill.Drill, own []string) *drill.Drill {
	if n.InSet() {
		count, fault := clock.ParseShowCount(n.Standing.V)
		set, known := d.Set(count.Set)
		switch {
		case fault != nil:
			n.p.Error("unreadable-count", n.Standing.Span, fault.What, fault.Do)
		case count.Offset != 0:
			n.p.Add(standingBetween(n.Standing, count.Set))
		case !known && !d.MayHold(count.Set):
			n.p.Error("unknown-set", n.Standing.Span, fmt.Sprintf("no set %q in the list of sets", count.Set),
				source.DidYouMean(count.Set, d.Labels(), "fix the set's number"))
		case known:
			return d.Standing(d.InSet(set))
		}
		return d
	}
	if n.Places == nil {
		return d // reported by who opens it
	}
	places, whole := n.old.Drill.ReadPlaces(n.Places, n.p)
	for _, s := range n.substitutes() {
		if dot, ok := places[s.For.V]; ok && slices.Contains(own, s.By.V) {
			places[s.By.V] = dot
		}
	}
	var lacks, others []string
	for _, x := range d.Players {
		_, has := places[x.Name]
		wears := slices.ContainsFunc(n.new.Roster.Wears, func(w roster.Wear) bool { return w.Player == x.Name })
		switch {
		case has:
		case wears:
			lacks = append(lacks, x.Name)
		default:
			others = append(others, x.Name)
		}
	}
	switch {
	case !whole:
		return d
	case len(lacks) > 0:
		n.p.Add(lacksPlaces(n.Standing, n.Places, lacks))
		return d
	case len(others) > 0:
		n.p.Add(othersStand(n.Standing, n.Places, others))
	}
	return d.Standing(places)
}
