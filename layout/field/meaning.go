package field

import (
	"slices"
	"strings"
	"unicode"
)

// meanings are words of a dot that can mean one thing only, wherever they are in it.
var meanings = map[string]string{"fsl": "front sideline", "hsl": "front sideline", "fh": "front hash",
	"hh": "front hash", "bh": "back hash", "vh": "back hash", "bsl": "back sideline", "vsl": "back sideline",
	"s1": "side 1", "s2": "side 2", "side1": "side 1", "side2": "side 2", "in": "inside", "inside": "inside",
	"out": "outside", "outside": "outside", "behind": "behind", "beh": "behind", "bhd": "behind", "ifo": "in front of",
	"sl": "sideline", "sideline": "sideline"}

// sameWord are words that say the same as others in the name of a line or a side.
var sameWord = map[string]string{"home": "front", "visitor": "back", "visitors": "back", "hashes": "hash",
	"hashmark": "hash", "a": "1", "b": "2"}

// Clash is what the word of a staff means already, if that is something else than what it is to stand for.
func (w Word) Clash() (means string, clash bool) {
	means, ok := meanings[strings.ToLower(w.From)]
	return means, ok && meaning(w.To) != means
}

// meaning is a text in the words of meanings.
func meaning(text string) string {
	words := strings.FieldsFunc(strings.ToLower(text),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i, w := range words {
		if same, ok := sameWord[w]; ok {
			words[i] = same
		}
	}
	words = slices.DeleteFunc(words, func(w string) bool {
		return slices.Contains([]string{"the", "mark", "marks", "step", "steps", "of"}, w)
	})
	all := strings.TrimSuffix(strings.ReplaceAll(strings.Join(words, " "), "side line", "sideline"), " line")
	if all == "in front" || all == "front" || all == "infront" {
		return "in front of"
	}
	if strings.HasPrefix(all, "back") && len(words) == 1 || all == "in back" || all == "rear" || all == "in rear" {
		return "behind"
	}
	if means, ok := meanings[all]; ok {
		return means
	}
	return all
}
