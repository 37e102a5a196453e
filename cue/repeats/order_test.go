package repeats

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
	"testing"

	"backfield/cue/notes"
	"backfield/layout/source"
)

// read puts signs into measures: "|:" and ":|" repeat, ":|3" plays three times in all, "[1,2" begins an ending and "]"
// ends it, DC, DS, TOCODA, FINE, SEGNO and CODA are played, "words=D.C._al_Fine"
// are written, "FINE@2" is for the second time only, and "sign" is a coda sign that is drawn.
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
				_, text, _ := strings.Cut(sign, "=")
				s.Words(strings.ReplaceAll(text, "_", " "), source.Span{}, bar)
			case sign == "sign":
				s.Coda(source.Span{}, bar)
			default:
				sign, times, _ := strings.Cut(sign, "@")
				name, value, named := strings.Cut(sign, "=")
				if !named {
					value = "yes"
				}
				s.Sound(element("sound", map[string]string{"DC": "dacapo", "DS": "dalsegno", "TOCODA": "tocoda",
					"FINE": "fine", "SEGNO": "segno", "CODA": "coda"}[name], value, "time-only", times), bar, 0)
			}
			s.Barline(barline, bar, 0)
		}
	}
	return s, len(list)
}

// The orders are worked by hand from the signs.
func TestOrder(t *testing.T) {
	for measures, want := range map[string]string{
		"//":                          "1 2 3",
		"/:|/":                        "1 2 1 2 3",
		"/|:/:|/":                     "1 2 3 2 3 4",
		":|4/":                        "1 1 1 1 2",
		"/|: :|/":                     "1 2 2 3",
		":|/:|/":                      "1 1 2 2 3", // the second goes back to where the first one ended
		"|:/[1 ] :|/[2 ]/":            "1 2 1 3 4",
		"|:/[1,2 ] :|/[3 ]/":          "1 2 1 2 1 3 4",
		"|:/[1. ] :|//:|":             "1 2 1 3 4 3 4", // played the first time only, with no second ending
		"|:/[1/ ] :|/[2/]/":           "1 2 3 1 4 5 6",
		"|:/[1 ] :|/[2 ] :|/":         "1 2 1 3 4",
		"|:/[1 ] :|/[2 ]/|:/:|/":      "1 2 1 3 4 5 4 5 6",
		"|:/[1 ] :|/[2 |: ]/:|/":      "1 2 1 3 4 3 4 5", // the second ending begins a repeat of its own
		"//|:":                        "1 2 3",
		"/DC":                         "1 2 1 2",
		"/FINE//DC":                   "1 2 3 4 1 2",
		"/SEGNO//DS":                  "1 2 3 4 2 3 4",
		"/SEGNO/FINE/DS":              "1 2 3 4 2 3",
		"/SEGNO=a//SEGNO=b/DS=b":      "1 2 3 4 5 4 5",
		"|:/[1,2 ] :|2/[3 ]/":         "1 2 1 2 1 3 4", // twice is what files say by default
		"|:/[1,2 ] :|3/[3 ]/":         "1 2 1 2 1 3 4",
		"/TOCODA@2//DC/CODA":          "1 2 3 4 1 2 5",
		"|:/:|/FINE@2/DC":             "1 2 1 2 3 4 1 2 3",
		"|:/:| DC@2":                  "1 2 1 2 1 2",
		"SEGNO=a/SEGNO=a//DC":         "1 2 3 4 1 2 3 4", // no jump leads to it
		"/SEGNO/TOCODA//DS/CODA/":     "1 2 3 4 5 2 3 6 7",
		"TOCODA//DC/CODA :|/":         "1 2 3 1 4 4 5",
		"|:/:|/FINE/DC":               "1 2 1 2 3 4 1 2 3", // after the jump no repeat is taken
		"|:/[1 ] :|/[2 ]/FINE/DC":     "1 2 1 3 4 5 1 3 4", // and of the endings the last
		"|:/[1 ] :|/FINE/DC":          "1 2 1 3 4 1 3",
		"/FINE/words=D.C._al_Fine DC": "1 2 3 1 2",
		"words=Play_4_times/:|4/":     "1 2 1 2 1 2 1 2 3",
		"words=Repeat_3x :|4/":        "1 1 1 1 2",
		":|1/":                        "1 2",
		"/sign/":                      "1 2 3", // leads nowhere
		"words=Coda/words=fine_tuning/words=dolce":                                      "1 2 3",
		"/SEGNO/TOCODA words=2nd_time_to_Coda sign//DS words=(D.S._al_Coda)/CODA sign/": "1 2 3 4 5 2 3 6 7",
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
		"/words=D.S._al_Coda/":       "these words send the players elsewhere, but the file does not play it",
		"words=fine/DC":              "these words send the players elsewhere",
		"/DC/":                       "this jump is not at the end, and the file plays no fine",
		"/|:|/":                      "this repeat is inside a measure",
		"/DS":                        "this leads back to a segno that the file does not have",
		"SEGNO=a/SEGNO=b/DS=c":       "this leads back to a segno",
		"/DC/DC":                     "this is the second jump of its kind",
		"TOCODA/TOCODA/DC/CODA":      "this is the second jump of its kind",
		"TOCODA/DC/":                 "this leads to a coda, and the file does not have exactly one",
		"TOCODA/CODA":                "no da capo or dal segno comes after it",
		"|:/[1 ] :|/[3 ]":            "its numbers do not count up from 1",
		"|:/[1":                      "this ending has no end",
		"|:/[x ] :|/":                "this ending has no end, or its numbers",
		"|:/[1 ]/[2 ]":               "nothing leads back before this ending",
		"|:/|:/:|/:|":                "this repeat begins before the one before it has ended",
		"words=Play_4_times/:|3/":    "these words send the players elsewhere",
		"words=D.C. DS SEGNO":        "these words send the players elsewhere",
		"/words=D.C._al_Fine DC":     "these words send the players elsewhere",
		"sign//sign":                 "this coda sign is only drawn",
		"/sign/DC":                   "this coda sign is only drawn",
		"/SEGNO=a/FINE/SEGNO=b/DS=b": `leads past this "fine"`,
		"/TOCODA/SEGNO/DS/CODA":      `leads past this "to coda"`,
		"SEGNO=a//SEGNO=a/DS=a":      "this is the second segno or coda of the same name",
		"TOCODA=a//DC/CODA=a/CODA=a": "this is the second segno or coda of the same name",
		"|:/[1 ] :|3/[2 ]":           "this repeat says that it is played 3 times, but its endings are for 2",
		"|:/FINE@2 :|/":              "for some times of a repeat only",
		"|:/DC@1 :|":                 "for some times of a repeat only",
		"/FINE@1/DC":                 "for some times of a repeat only",
		"|:/SEGNO@2 :|":              "for some times of a repeat only",
		":|0/":                       "how often this repeat is played",
		":|two/":                     "how often this repeat is played",
		":|150/":                     "how often this repeat is played",
		"FINE/DC/":                   "measure 3 of the file, counted from 1, is never played",
		"|: :|99/|: :|99/|: :|99/":   "more than 200 measures",
	} {
		s, bars := read(measures)
		if _, _, fault := s.Order(bars, 200); fault == nil || !strings.Contains(fault.What, want) {
			t.Errorf("%s: got %v, want %q", measures, fault, want)
		}
	}
}

// However a jump is written, the file has to play it.
func TestJumpWords(t *testing.T) {
	for _, text := range []string{"D.C. al Fine", "D.C al Fine", "D.C", "DC", "DS", "D.S", "D. C. al Fine", "D.S al Coda",
		"(D.C.)", "Go to Coda", "To Coda", "al Coda", "To ⊕", "2nd time to Coda", "Fine.", "FINE", "Play 4 times", "4x",
		"Repeat 3x", "X4", "Dal segno", "Da Capo al Fine", "(Repeat)", "Repeat ad lib.", "open repeat", "D.S. al Coda",
		"Play four times", "3 volte", "tre volte", "3 mal"} {
		s := JumpSigns{}
		s.Words(text, source.Span{}, 0)
		if _, _, fault := s.Order(2, 10); fault == nil {
			t.Errorf("%q: nothing is said", text)
		}
	}
	for _, text := range []string{"dolce", "Coda", "2nd time only", "2x only", "a 2", "div. a 3", "con fine sentimento"} {
		s := JumpSigns{}
		s.Words(text, source.Span{}, 0)
		if _, _, fault := s.Order(2, 10); fault != nil {
			t.Errorf("%q: %v", text, fault)
		}
	}
	for text, want := range map[string]bool{"2nd time only": true, "2x only": true, "play 2nd time only": true,
		"tacet 1st x": true, "Tacet 1x": true, "1x tacet": true, "Play on repeat": true, "on repeat only": true,
		"2a volta": true, "nur 2. Mal": true, "2. x": true, "prima volta tacet": true, "2e fois": true,
		"Play 4x": false, "repeat": false, "Repeat 3x": false, "3 volte": false, "1st time only": true, "(last time)": true, "2nd valve": false, "1st Tpt": false,
		"next time": false} {
		if OnlySometimes(text) != want {
			t.Errorf("%q: %v", text, !want)
		}
	}
	for text, want := range map[string]bool{"Vamp": true, "vamp till cue": true, "Repeat ad lib.": true,
		"open repeat": true, "on cue": true, "ad lib.": false, "solo ad lib.": false, "open": false, "Play 4x": false} {
		if Open(text) != want {
			t.Errorf("%q: open %v", text, !want)
		}
	}
	s := JumpSigns{} // it is about one time, and no jump
	s.Words("Tacet 1x", source.Span{}, 0)
	if _, _, fault := s.Order(2, 10); fault != nil {
		t.Error(fault)
	}
}

// A repeat is at the beginning or the end of a measure, whatever its barline says.
func TestRepeatInside(t *testing.T) {
	for _, x := range []struct {
		direction, location string
		filled, all         float64
		want                bool
	}{{"forward", "left", 0, 4, false}, {"forward", "left", 2, 4, true}, {"backward", "right", 2, 4, true},
		{"backward", "right", 4, 4, false}, {"backward", "right", 0, 0, false}, {"backward", "", 4, 4, false},
		{"backward", "left", 0, 4, true}} {
		s := JumpSigns{}
		s.Barline(&notes.Element{Attrs: []xml.Attr{{Name: xml.Name{Local: "location"}, Value: x.location}},
			Kids: []*notes.Element{{Name: "repeat",
				Attrs: []xml.Attr{{Name: xml.Name{Local: "direction"}, Value: x.direction}}}}}, 0, x.filled)
		s.EndMeasure(0, x.all)
		if _, _, fault := s.Order(1, 10); (fault != nil) != x.want {
			t.Errorf("%v: %v", x, fault)
		}
	}
	tempo := &notes.Element{Attrs: []xml.Attr{{Name: xml.Name{Local: "tempo"}, Value: "60"},
		{Name: xml.Name{Local: "time-only"}, Value: "2"}}}
	s := JumpSigns{}
	s.Sound(tempo, 0, 2)
	if _, _, fault := s.Order(1, 10); fault == nil || !strings.Contains(fault.What, "time-only") {
		t.Errorf("tempo of one time: %v", fault)
	}
}

// Jumps are at the end of a measure, or anywhere at its beginning; what they lead to is at a beginning.
func TestInside(t *testing.T) {
	for _, x := range []struct {
		name  string
		place float64
		want  bool
	}{{"dacapo", 0, false}, {"dacapo", 4, false}, {"dacapo", 2, true}, {"fine", 1, true}, {"tocoda", 3, true},
		{"segno", 0, false}, {"segno", 2, true}, {"coda", 4, true}, {"tempo", 2, false}} {
		s := JumpSigns{}
		s.Sound(&notes.Element{Attrs: []xml.Attr{{Name: xml.Name{Local: x.name}, Value: "1"}}}, 0, x.place)
		if _, fault := s.Inside([]float64{4}); (fault != nil) != x.want {
			t.Errorf("%s at %g: %v", x.name, x.place, fault)
		}
	}
}

// A repeat that is played after the jump too is not followed; without a jump it is any repeat. A barline's segno is
// that of the measure after it.
func TestBarlines(t *testing.T) {
	barline := func(name, value, location string) *notes.Element {
		return &notes.Element{Name: "barline", Attrs: []xml.Attr{{Name: xml.Name{Local: "location"}, Value: location},
			{Name: xml.Name{Local: name}, Value: value}}}
	}
	again := barline("x", "", "right")
	again.Kids = []*notes.Element{{Name: "repeat", Attrs: []xml.Attr{{Name: xml.Name{Local: "after-jump"}, Value: "yes"}}}}
	sound := func(name string) *notes.Element {
		return &notes.Element{Attrs: []xml.Attr{{Name: xml.Name{Local: name}, Value: "a"}}}
	}
	for name, x := range map[string]struct {
		signs func(s *JumpSigns)
		want  string
	}{
		"after a jump": {func(s *JumpSigns) { s.Barline(again, 0, 0); s.Sound(sound("dacapo"), 1, 4) }, "after the jump"},
		"no jump":      {func(s *JumpSigns) { s.Barline(again, 0, 0) }, "[0 0 1]"},
		"segno right":  {func(s *JumpSigns) { s.Barline(barline("segno", "a", "right"), 0, 0); s.Sound(sound("dalsegno"), 1, 4) }, "[0 1 1]"},
		"segno left":   {func(s *JumpSigns) { s.Barline(barline("segno", "a", "left"), 0, 0); s.Sound(sound("dalsegno"), 1, 4) }, "[0 1 0 1]"},
		"dal segno":    {func(s *JumpSigns) { s.Barline(barline("dalsegno", "a", "right"), 1, 0) }, "these words"},
	} {
		s := JumpSigns{}
		x.signs(&s)
		order, _, fault := s.Order(2, 10)
		if got := fmt.Sprint(order, fault); !strings.Contains(got, x.want) {
			t.Errorf("%s: %s, want %s", name, got, x.want)
		}
	}
}

// Whatever the signs, the walk ends, plays measures that there are and, unless it refuses, all of them.
func FuzzOrder(f *testing.F) {
	f.Add("|:/[1 ] :|/[2 ]/SEGNO/TOCODA/DS/CODA :|3")
	f.Add("|: :|9/[1,2 ] :|/[3 |: ]/:|/FINE sign/words=4x DC")
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
