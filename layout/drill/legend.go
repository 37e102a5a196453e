package drill

import (
	"regexp"
	"slices"
	"strings"

	"backfield/layout/field"
	"backfield/layout/source"
)

// legendEntry is a word of a sheet's legend and what it stands for: "HS = home sideline", as a text of its own or
// one of several after commas.
var legendEntry = regexp.MustCompile(`(?m)(?:^|[,;\t"(:])[ \t]*([A-Za-z]{1,12})[ \t]*=[ \t]*([A-Za-z][A-Za-z \t]*?)` +
	`[ \t.]*(?:[;\t")]|,|\r?$)`)

// Legend is what the legend of a sheet of dots says of words that ground does not know. It has only what can be read in
// one way: no word that is there twice with two meanings, and no meaning that is not in words of a dot. The others stay
// unknown, so that the dots that have them are refused.
func Legend(dots *source.File, ground field.Field) (words []field.Word) {
	return legend(dots, ground, &source.Problems{})
}

// legend reports words that mean something else already.
func legend(dots *source.File, ground field.Field, p *source.Problems) (words []field.Word) {
	if !strings.Contains(dots.Text, "=") { // nearly all sheets
		return nil
	}
	twice := map[string]bool{}
	for text, at := dots.Text, 0; ; {
		m := legendEntry.FindStringSubmatchIndex(text)
		if m == nil {
			break
		}
		word := field.Word{From: text[m[2]:m[3]], To: strings.ToLower(text[m[4]:m[5]])}
		place := source.Span{File: dots, Start: at + m[2], End: at + m[5]}
		text, at = text[m[5]:], at+m[5] // what ends an entry may begin the next
		if means, clash := word.Clash(); clash && len(ground.Strange(word.To)) == 0 {
			p.Add(knownWord(place, "the legend says that", word, means))
		}
		if len(ground.Strange(word.From)) == 0 || len(ground.Strange(word.To)) > 0 {
			continue
		}
		i := slices.IndexFunc(words, func(w field.Word) bool { return strings.EqualFold(w.From, word.From) })
		if i < 0 {
			words = append(words, word)
		} else if words[i].To != word.To {
			twice[words[i].From] = true
		}
	}
	return slices.DeleteFunc(words, func(w field.Word) bool { return twice[w.From] })
}
