package parts

import (
	"fmt"
	"slices"

	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// checkNames reports parts that are mapped and in no file. While a file could not be read nobody knows.
func checkNames(s *score.Score, p *source.Problems) {
	if len(s.Parts) == 0 {
		return
	}
	var known []string
	files := 0
	for _, m := range s.Movements {
		switch {
		case m.File != nil && m.Music == nil:
			return
		case m.Music != nil:
			files++
			for _, part := range m.Music.Parts {
				if !slices.Contains(known, part.Name) {
					known = append(known, part.Name)
				}
			}
		}
	}
	if files == 0 {
		p.Add(noMusic(s.Parts[0].Part))
		return
	}
	for _, x := range s.Parts {
		if !slices.Contains(known, x.Part.V) {
			p.Add(noSuchPart(x.Part, known))
		}
	}
}

func noMusic(part table.Text) source.Problem {
	return source.ErrorAt("unknown-part", part.Span,
		"[music.parts] says who plays which part, but no movement takes its tempo from a file of music",
		`write tempo = { music = "FILE" } in a movement, or take out [music.parts]`)
}

func noSuchPart(part table.Text, known []string) source.Problem {
	return source.ErrorAt("unknown-part", part.Span,
		fmt.Sprintf("no file of the show's music has a part %q", part.V),
		source.DidYouMean(part.V, known, "its parts are "+source.OneOf(known)+"; backfield parts lists them"))
}
