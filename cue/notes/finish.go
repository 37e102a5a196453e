package notes

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/cue/clock"
)

// tiny is how close two places are the same, in quarters.
const tiny = 1e-6

// PlayedOrder is in what order the measures are played. Starts are where those that are written would begin if each was
// played once; Order are their indices as they are played, and PlayedAt where each of these begins. Places are in
// quarters from the first instant.
type PlayedOrder struct {
	Starts   []float64
	Order    []int
	PlayedAt []float64
	Lengths  []float64 // of those that are written
}

// Finish returns the parts as played. Its error is of the file as a whole.
func (x *PartReader) Finish(c PlayedOrder) ([]clock.MusicPart, error) {
	if err := x.repeatMeasures(c); err != nil {
		return nil, err
	}
	played := make([]int, len(c.Starts)) // by measure: how often
	for _, bar := range c.Order {
		played[bar]++
	}
	total := 0
	for _, p := range x.parts {
		for _, s := range p.staves {
			for _, n := range s.notes {
				total += played[n.bar]
			}
		}
	}
	if total > mostNotes {
		return nil, fmt.Errorf("more than %d notes", mostNotes)
	}
	var list []clock.MusicPart
	for i, p := range x.parts {
		name := x.Name(i)
		for n, s := range p.staves {
			part := clock.MusicPart{Name: name, Notes: s.finish(c)}
			if len(p.staves) > 1 {
				part.Name = fmt.Sprintf("%s, staff %d", name, n+1)
			}
			list = append(list, part)
		}
	}
	apart(list)
	return list, nil
}

// longestName is how much of a part's name is kept, in bytes.
const longestName = 80

// Tidy is a name with single spaces, or another one where it is empty.
func Tidy(name, otherwise string) string {
	name = strings.ToValidUTF8(strings.Join(strings.Fields(name), " "), "")
	if name == "" {
		return otherwise
	}
	return strings.ToValidUTF8(name[:min(len(name), longestName)], "")
}

// apart numbers parts of the same name.
func apart(list []clock.MusicPart) {
	used := map[string]bool{}
	for i := range list {
		name := list[i].Name
		for n := 2; used[list[i].Name]; n++ {
			list[i].Name = fmt.Sprintf("%s (%d)", name, n)
		}
		used[list[i].Name] = true
	}
}

// finish returns the notes of a staff in order. Signs hold from where they are written on, whichever measure is played
// before; ties lead to what is played next.
func (s *staff) finish(c PlayedOrder) []clock.PlayedNote {
	s.divide()
	for i := range s.signs {
		s.signs[i].at = onGrid(s.signs[i].at + c.Starts[s.signs[i].bar])
	}
	ordered(s.signs)
	dynamics := newCourse(s.signs)
	byBar := make([][]written, len(c.Starts))
	slices.SortStableFunc(s.notes, func(a, b written) int {
		return cmp.Or(cmp.Compare(a.bar, b.bar), cmp.Compare(a.From, b.From))
	})
	s.solos(c.Starts)
	for _, n := range s.notes {
		at := onGrid(n.From + c.Starts[n.bar])
		n.DynamicsDB = dynamics.at(at)
		n.Marked = dynamics.marked && at > dynamics.markedAt-tiny
		if !n.rest {
			byBar[n.bar] = append(byBar[n.bar], n)
		}
	}
	var sounding []written
	time := make([]int, len(c.Starts)) // by measure: how often it has been played
	for i, bar := range c.Order {
		time[bar]++
		for _, n := range byBar[bar] {
			if n.times != nil && !slices.Contains(n.times, time[bar]) {
				continue
			}
			n.From, n.To = n.From+c.PlayedAt[i], n.To+c.PlayedAt[i]
			sounding = append(sounding, n)
		}
	}
	slices.SortStableFunc(sounding, func(a, b written) int {
		return cmp.Or(cmp.Compare(snap(a.From), snap(b.From)), cmp.Compare(a.Key, b.Key))
	})
	return tie(sounding)
}

// snap rounds a place, so that sums of fractions compare as equal.
func snap(quarters float64) float64 { return float64(int64(quarters/tiny + 0.5)) }

// divide finds measures in which several voices share the staff: each is for one desk. Of one voice all play. Voices
// that are played at some times of a repeat only are no division.
func (s *staff) divide() {
	voices := map[int][]string{} // by bar
	for _, n := range s.notes {
		if n.times == nil && !slices.Contains(voices[n.bar], n.voice) {
			voices[n.bar] = append(voices[n.bar], n.voice)
		}
	}
	for _, list := range voices {
		slices.SortFunc(list, func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b)) })
	}
	for i := range s.notes {
		if n := &s.notes[i]; n.times == nil && len(voices[n.bar]) > 1 {
			n.Desk, n.Desks = slices.Index(voices[n.bar], n.voice)+1, len(voices[n.bar])
		}
	}
}

// tie joins tied notes of one key, each to the last one that ends where it begins.
func tie(sounding []written) []clock.PlayedNote {
	var list []clock.PlayedNote
	open := map[float64]int{} // by key: the note in the list that is tied on
	for _, n := range sounding {
		at, tied := open[n.Key]
		if n.tieStop && tied && snap(list[at].To) == snap(n.From) {
			list[at].To, list[at].Joined = n.To, n.Joined
			list[at].Breath = list[at].Breath || n.Breath
		} else {
			at = len(list)
			list = append(list, n.PlayedNote)
		}
		if delete(open, n.Key); n.tieStart {
			open[n.Key] = at
		}
	}
	return list
}

// solos follows the words of a staff: solo is the first player of the part, soli all of them, "2." the second alone, up
// to the next such words. Starts are where the measures begin; the notes and signs are in order.
func (s *staff) solos(starts []float64) {
	solo, called, desk, next := false, false, 0, 0
	for i := range s.notes {
		n := &s.notes[i]
		for ; next < len(s.signs) && s.signs[next].at <= onGrid(n.From+starts[n.bar])+tiny; next++ {
			words := s.signs[next].words
			m := deskWords.FindStringSubmatch(words)
			switch {
			case words == "":
			case m != nil:
				desk, _ = strconv.Atoi(m[1])
				solo, called = m[2] != "", m[2] != ""
			case soloWords.MatchString(words):
				solo, called, desk = true, true, 0
				if strings.EqualFold(soloWords.FindStringSubmatch(words)[1], "solo") {
					desk = 1
				}
			case tuttiWords.MatchString(words):
				solo, called, desk = false, false, 0
			}
		}
		if !n.rest {
			n.Called, called = called, false
		}
		if n.Solo = solo; n.Desk == 0 {
			n.Desk = desk
		}
	}
}
