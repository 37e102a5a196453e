package parts

import (
	"regexp"
	"slices"
	"strings"

	"backfield/cue/roster"
	"backfield/cue/score"
)

// Guessed is a part of the music and who may play it: players or one @section; none where nobody suits.
type Guessed struct {
	Part  string
	Names []string
	Notes int // in the whole show
	Asked bool
}

// Listed lists the parts of a show's music that have notes, in order of first mention. Those that the show maps have who
// plays them; the others are guessed, and Asked.
func Listed(s *score.Score, r *roster.Roster) []Guessed {
	var list []Guessed
	for _, m := range s.Movements {
		if m.Music == nil {
			continue
		}
		for _, part := range m.Music.Parts {
			k := slices.IndexFunc(list, func(g Guessed) bool { return g.Part == part.Name })
			if k < 0 {
				k = len(list)
				list = append(list, Guessed{Part: part.Name, Asked: true})
			}
			list[k].Notes += len(part.Notes)
		}
	}
	list = slices.DeleteFunc(list, func(g Guessed) bool { return g.Notes == 0 })
	for i := range list {
		g := &list[i]
		if k := slices.IndexFunc(s.Parts, func(x score.PartPlayers) bool { return x.Part.V == g.Part }); k >= 0 {
			g.Asked = false
			for _, name := range s.Parts[k].Names {
				g.Names = append(g.Names, name.V)
			}
		}
	}
	guess(list, r)
	return list
}

// guess shares each section out among the parts whose names say its instrument: in the order of the roster, as evenly
// as it goes, the first parts first.
func guess(list []Guessed, r *roster.Roster) {
	byInstrument := map[string][]int{} // the parts of each, by index
	var order []string
	for i, g := range list {
		if name := Instrument(g.Part); name != "" && g.Asked {
			if byInstrument[name] == nil {
				order = append(order, name)
			}
			byInstrument[name] = append(byInstrument[name], i)
		}
	}
	for _, name := range order {
		parts := byInstrument[name]
		var players, sections []string
		for _, p := range r.Players {
			if p.Section != "" && (Instrument(p.Instrument.Text) == name || Instrument(p.Section) == name) {
				players = append(players, p.Name)
				if !slices.Contains(sections, p.Section) {
					sections = append(sections, p.Section)
				}
			}
		}
		for k, i := range parts {
			switch {
			case len(players) == 0:
			case len(parts) == 1:
				for _, section := range sections {
					list[i].Names = append(list[i].Names, "@"+section)
				}
			case len(parts) > len(players): // several parts for one
				list[i].Names = []string{players[k*len(players)/len(parts)]}
			default:
				list[i].Names = slices.Clone(players[k*len(players)/len(parts) : (k+1)*len(players)/len(parts)])
			}
		}
	}
}

// instrumentWords are how parts and sections call the instruments, as whole words without an s at their end.
var instrumentWords = []struct{ name, words string }{
	{"trumpet", `trumpet|tpt|trp|trpt|cornet|soprano`},
	{"mellophone", `mellophone|mello|mel|mph|french horn|horn|hn|alto`},
	{"trombone", `trombone|tbn|trb|bone`},
	{"baritone", `baritone|bari|bar|euphonium|euph|eup`},
	{"tuba", `tuba|contra|contrabass|sousaphone|sousa|tba`},
	{"snare", `snare|snare drum`},
	{"tenor", `tenor|tenor drum|quad`},
	{"bass", `bass drum|bass|bd`},
	{"cymbal", `cymbal|cym`},
	{"pit", `pit|front ensemble|marimba|vibraphone|vibe|xylophone|glockenspiel|synthesizer|synth|piano|timpani`},
}

var instrumentForms = func() (list []*regexp.Regexp) {
	for _, x := range instrumentWords {
		list = append(list, regexp.MustCompile(`(?i)(^|[^\pL])(`+x.words+`)s?([^\pL]|$)`))
	}
	return list
}()

// Instrument is the instrument that a name says, empty where it says none. The first of the list wins: a bass trombone
// is a trombone.
func Instrument(name string) string {
	for i, form := range instrumentForms {
		if form.MatchString(strings.TrimSpace(name)) {
			return instrumentWords[i].name
		}
	}
	return ""
}
