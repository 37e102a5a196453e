package repeats

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/cue/notes"
)

// read puts signs into measures: "|:" and ":|" repeat, ":|3" plays three times in all, "[1,2" begins an ending and "]"
// ends it, DC, DS, TOCODA, FINE, SEGNO and CODA are played, "words" and "words=fine"
// are only written.
func read(measures string) (s JumpSigns, bars int) {
	element := func(name string, attrs ...string) *notes.Element {
		e := &notes.Element{Name: name}
		for i := 0; i < len(attrs); i += 2 {
			e.Attrs = append(e.Attrs, xml.Attr{Name: xml.Name{Local: attrs[i]}, Value: attrs[i+1]})
		}
		return e
	}
	list := strings.Split(measures, "/")
	for bar, signs := range list {
		for _, sign := range strings.Fields(signs) {
			barline := element("barline")
			switch {
			case sign == "|:":
				barline.Kids = append(barline.Kids, element("repeat", "direction", "forward"))
			case strings.HasPrefix(sign, ":|"):
				barline.Kids = append(barline.Kids, element("repeat", "direction", "backward", "times", sign[2:]))
			case sign == "|:|":
				barline = element("barline", "location", "middle")
				barline.Kids = append(barline.Kids, element("repeat", "direction", "forward"))
			case sign[0] == '[':
				barline.Kids = append(barline.Kids, element("ending", "type", "start", "number", sign[1:]))
			case sign == "]":
				barline.Kids = append(barline.Kids, element("ending", "type", "stop"))
			case strings.HasPrefix(sign, "words"):
				e := element("words")
				e.Text = map[string]string{"words": "D.S. al Coda", "words=fine": "Fine"}[sign]
				s.Words(e, bar)
			default:
				name, value, named := strings.Cut(sign, "=")
				if !named {
					value = "yes"
				}
				s.Sound(element("sound", map[string]string{"DC": "dacapo", "DS": "dalsegno", "TOCODA": "tocoda",
					"FINE": "fine", "SEGNO": "segno", "CODA": "coda"}[name], value), bar)
			}
			s.Barline(barline, bar)
		}
	}
	return s, len(list)
}

// The orders are worked by hand from the signs.
func TestOrder(t *testing.T) {
	for measures, want := range map[string]string{
		"//":                         "1 2 3",
		"/:|/":                       "1 2 1 2 3",
		"/|:/:|/":                    "1 2 3 2 3 4",
		":|4/":                       "1 1 1 1 2",
		"/|: :|/":                    "1 2 2 3",
		":|/:|/":                     "1 1 2 2 3", // the second goes back to where the first one ended
		"|:/[1 ] :|/[2 ]/":           "1 2 1 3 4",
		"|:/[1,2 ] :|/[3 ]/":         "1 2 1 2 1 3 4",
		"|:/[1. ] :|//:|":            "1 2 1 3 4 3 4", // played the first time only, with no second ending
		"|:/[1/ ] :|/[2/]/":          "1 2 3 1 4 5 6",
		"|:/[1 ] :|/[2 ] :|/":        "1 2 1 3 4",
		"|:/[1 ] :|/[2 ]/|:/:|/":     "1 2 1 3 4 5 4 5 6",
		"|:/[1 ] :|/[2 |: ]/:|/":     "1 2 1 3 4 3 4 5", // the second ending begins a repeat of its own
		"//|:":                       "1 2 3",
		"/DC":                        "1 2 1 2",
		"/FINE//DC":                  "1 2 3 4 1 2",
		"/SEGNO//DS":                 "1 2 3 4 2 3 4",
		"/SEGNO/FINE/DS":             "1 2 3 4 2 3",
		"/SEGNO=a/FINE/SEGNO=b/DS=b": "1 2 3 4 5 4 5",
		"/SEGNO/TOCODA//DS/CODA/":    "1 2 3 4 5 2 3 6 7",
		"TOCODA//DC/CODA :|/":        "1 2 3 1 4 4 5",
		"|:/:|/FINE/DC":              "1 2 1 2 3 4 1 2 3", // after the jump no repeat is taken
		"|:/[1 ] :|/[2 ]/FINE/DC":    "1 2 1 3 4 5 1 3 4", // and of the endings the last
		"|:/[1 ] :|/FINE/DC":         "1 2 1 3 4 1 3",
		"/FINE/words DC":             "1 2 3 1 2",
	} {
		s, bars := read(measures)
		order, _, fault := s.Order(bars, 1000)
		got := ""
		for _, bar := range order {
			got += fmt.Sprintf(" %d", bar+1)
		}
		if got = strings.TrimSpace(got); fault != nil || got != want {
			t.Errorf("%s: got %s (%v), want %s", measures, got, fault, want)
		}
	}
}

func TestRefused(t *testing.T) {
	for measures, want := range map[string]string{
		"/words/":                  "these words send the players elsewhere, but the file does not play it",
		"words=fine/DC":            "these words send the players elsewhere",
		"/DC/":                     "this jump is not at the end, and the file plays no fine",
		"/|:|/":                    "this repeat is inside a measure",
		"/DS":                      "this leads back to a segno that the file does not have",
		"SEGNO=a/SEGNO=b/DS=c":     "this leads back to a segno",
		"/DC/DC":                   "this is the second jump of its kind",
		"TOCODA/TOCODA/DC/CODA":    "this is the second jump of its kind",
		"TOCODA/DC/":               "this leads to a coda, and the file does not have exactly one",
		"TOCODA/CODA":              "no da capo or dal segno comes after it",
		"|:/[1 ] :|/[3 ]":          "its numbers do not count up from 1",
		"|:/[1":                    "this ending has no end",
		"|:/[x ] :|/":              "this ending has no end, or its numbers",
		"|:/[1 ]/[2 ]":             "nothing leads back before this ending",
		"|:/|:/:|/:|":              "this repeat begins before the one before it has ended",
		"FINE/DC/":                 "measure 3 of the file, counted from 1, is never played",
		"|: :|99/|: :|99/|: :|99/": "more than 200 measures",
	} {
		s, bars := read(measures)
		if _, _, fault := s.Order(bars, 200); fault == nil || !strings.Contains(fault.What, want) {
			t.Errorf("%s: got %v, want %q", measures, fault, want)
		}
	}
}

// Whatever the signs, the walk ends, plays measures that there are and, unless it refuses, all of them.
func FuzzOrder(f *testing.F) {
	f.Add("|:/[1 ] :|/[2 ]/SEGNO/TOCODA/DS/CODA :|3")
	f.Add("|: :|9/[1,2 ] :|/[3 |: ]/:|/FINE/words DC")
	f.Fuzz(func(t *testing.T, measures string) {
		if len(measures) > 300 {
			return
		}
		s, bars := read(measures)
		order, _, fault := s.Order(bars, 500)
		if fault != nil {
			return
		}
		played := make([]bool, bars)
		for _, bar := range order {
			played[bar] = true
		}
		if len(order) > 500 || slices.Contains(played, false) {
			t.Errorf("%q: %v", measures, order)
		}
	})
}
