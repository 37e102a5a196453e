package notes

import (
	"fmt"
	"slices"
	"strconv"

	"backfield/cue/clock"
)

// style is where a staff begins or ends to be drawn as repeats of the measures before, or with slashes.
type style struct {
	slash bool // else a repeat
	start bool
	staff int // 0: all
	of    int // a repeat: of how many measures
	bar   int
	at    float64
}

// measureStyles reads the measure-style elements of attributes. A beat-repeat plays on, as slashes do.
func (x *PartReader) measureStyles(e *Element, bar int, at float64) error {
	p := x.parts[len(x.parts)-1]
	for _, m := range e.All("measure-style") {
		staff, _ := strconv.Atoi(m.Attr("number"))
		for _, k := range m.Kids {
			s := style{slash: k.Name != "measure-repeat", start: k.Attr("type") == "start", staff: staff, bar: bar,
				at: at}
			switch {
			case k.Name != "measure-repeat" && k.Name != "slash" && k.Name != "beat-repeat":
				continue
			case !s.slash && s.start:
				var err error
				if s.of, err = strconv.Atoi(m.Say(k.Name)); err != nil || s.of < 1 || s.of > bar {
					return fmt.Errorf("this measure repeat is of %.20q measures, and %d come before it; write the "+
						"measures out in your notation program", m.Say(k.Name), bar)
				}
			}
			if x.notes++; x.notes > mostNotes {
				return fmt.Errorf("more than %d notes", mostNotes)
			}
			p.styles = append(p.styles, s)
		}
	}
	return nil
}

// repeatMeasures fills in what is drawn as repeats or with slashes. Where the file has notes there, they stay.
func (x *PartReader) repeatMeasures(c PlayedOrder) error {
	total := 0
	for _, p := range x.parts {
		for i, s := range p.staves {
			if len(p.styles) > 0 {
				s.fill(p.styles, i+1, c.Lengths)
			}
			if total += len(s.notes); total > mostNotes {
				return fmt.Errorf("more than %d notes", mostNotes)
			}
		}
	}
	return nil
}

// fill does so in one staff of a number, from 1.
func (s *staff) fill(styles []style, number int, lengths []float64) {
	byBar := make([][]written, len(lengths))
	for _, n := range s.notes {
		byBar[n.bar] = append(byBar[n.bar], n)
	}
	total := len(s.notes)
	var repeat, slash *style
	next := 0
	for bar := range lengths {
		from := 0.0
		for ; next < len(styles) && styles[next].bar == bar; next++ {
			x := &styles[next]
			switch {
			case x.staff != 0 && x.staff != number:
			case !x.slash && x.start:
				repeat = x
			case !x.slash:
				repeat = nil
			case x.start:
				slash, from = x, x.at
			default:
				if slash != nil {
					byBar[bar] = playOn(byBar[bar], bar, from, x.at)
				}
				slash = nil
			}
		}
		switch {
		case repeat != nil && !sounds(byBar[bar], 0, lengths[bar]):
			byBar[bar] = copied(byBar[repeat.bar-repeat.of+(bar-repeat.bar)%repeat.of], bar, lengths[bar])
		case slash != nil:
			byBar[bar] = playOn(byBar[bar], bar, from, lengths[bar])
		}
		if total += len(byBar[bar]); total > 2*mostNotes {
			break // and more than there may be
		}
	}
	s.notes = slices.Concat(byBar...)
}

// sounds reports whether the notes of a measure sound between two places of it.
func sounds(list []written, from, to float64) bool {
	return slices.ContainsFunc(list, func(n written) bool { return !n.rest && n.From < to-tiny && n.To > from+tiny })
}

// copied are the notes of a measure in another one, as far as they fit into it.
func copied(list []written, bar int, length float64) (copies []written) {
	for _, n := range list {
		if n.bar = bar; n.From < length-tiny {
			n.To = min(n.To, length)
			copies = append(copies, n)
		}
	}
	return copies
}

// playOn puts a note of no pitch where slashes are drawn over rests, or over nothing.
func playOn(list []written, bar int, from, to float64) []written {
	if to < from+tiny || sounds(list, from, to) {
		return list
	}
	n := written{bar: bar}
	n.From, n.To, n.Key = from, to, clock.Unpitched
	if i := slices.IndexFunc(list, func(x written) bool { return x.To > from+tiny && x.From < to-tiny }); i >= 0 {
		n.voice = list[i].voice
	}
	list = slices.DeleteFunc(slices.Clone(list), func(x written) bool { return x.To > from+tiny && x.From < to-tiny })
	return append(list, n)
}
