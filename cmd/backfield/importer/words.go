package importer

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"backfield/layout/drill"
	"backfield/layout/drill/guess"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Words reads what --word says, lines WORD=MEANING. The error names the flag.
func Words(given []string) (words []field.Word, err error) {
	for _, line := range given {
		from, to, ok := strings.Cut(line, "=")
		if from = strings.TrimSpace(from); !ok || from == "" {
			return nil, fmt.Errorf("--word %q: write WORD=MEANING, such as \"Left=side 1\"", line)
		}
		word := field.Word{From: from, To: strings.TrimSpace(to)}
		if means, clash := word.Clash(); clash {
			return nil, fmt.Errorf("--word %q: in a dot %q means %q; leave it out, or change the dots", line, from,
				means)
		}
		words = append(words, word)
	}
	return words, nil
}

// Guess proposes the layout of a sheet of dots, in which what was given stays. sure is false where it cannot and must;
// then it has said why.
func Guess(w io.Writer, path string, dots *source.File, ground field.Field, given rows.Columns,
	must bool) (c rows.Columns, sure bool) {
	var p source.Problems
	c, missing := guess.Columns(dots, ground, given, &p)
	if missing == "" || !must {
		return c, true
	}
	source.Print(w, p.All())
	noGuess(w, path, missing, guess.Strange(dots, ground))
	return c, false
}

// noGuess says why the layout of a sheet cannot be guessed, and which words in its dots are not known.
func noGuess(w io.Writer, path, missing string, strange []string) {
	fmt.Fprintf(w, "%s: cannot guess: %s; say which column is which with --column (backfield help import)\n", path,
		missing)
	if len(strange) == 0 {
		return
	}
	var flags []string
	for _, word := range strange[:min(len(strange), mostAsked)] {
		flags = append(flags, fmt.Sprintf("--word %q", word+"=MEANING"))
	}
	fmt.Fprintf(w, "its dots have words that are not known; say what each means: %s\n", strings.Join(flags, " "))
}

// mostAsked is how many words are asked for: more are hardly words of a staff.
const mostAsked = 12

// AskWords asks what each word in a file's dots means that neither given nor the sheet's legend says, with put, which
// asks until the check accepts the answer; an empty answer leaves a word as it is. It returns the words that were given
// and answered, and the ground that knows them and the legend.
func AskWords(dots *source.File, ground field.Field, given []field.Word,
	put func(question string, value *string, check func(string) error) error) ([]field.Word, field.Field) {
	words := given
	ground = ground.Saying(given)
	ground = ground.Saying(drill.Legend(dots, ground))
	list := guess.Strange(dots, ground)
	for _, word := range list[:min(len(list), mostAsked)] {
		question := fmt.Sprintf(
			"%q in a dot means (outside, front hash, ...; - for nothing; Enter to leave it)", word)
		side := slices.Contains(sideWords, strings.ToLower(word))
		if side {
			question = fmt.Sprintf(
				"%q in a dot means (1 for the audience's left, 2 for its right; Enter to leave it)", word)
		}
		answer := ""
		err := put(question, &answer, func(text string) error { return checkAnswer(text, side, ground) })
		if side && len(answer) == 1 && answer != "-" {
			answer = "side " + answer
		}
		switch {
		case err != nil:
			return words, ground.Saying(words)
		case answer == "-":
			words = append(words, field.Word{From: word})
		case answer != "":
			words = append(words, field.Word{From: word, To: answer})
		}
	}
	return words, ground.Saying(words)
}

// Again writes the flags that give words once more, for someone who has answered and has to start over.
func Again(w io.Writer, words []field.Word) {
	if len(words) == 0 {
		return
	}
	fmt.Fprint(w, "to give the same words again:")
	for _, x := range words {
		fmt.Fprintf(w, " --word %q", x.From+"="+x.To)
	}
	fmt.Fprintln(w)
}

// sideWords are words for a side, which is the audience's or the players'.
var sideWords = []string{"l", "r", "lt", "rt", "left", "right"}

// checkAnswer refuses what a word of a dot cannot mean. A bare number would be taken for steps or a yard line, unless
// the question is which side.
func checkAnswer(text string, side bool, ground field.Field) error {
	strange := ground.Strange(text)
	switch {
	case text == "-":
		return nil
	case side && !slices.Contains([]string{"1", "2", "side 1", "side 2"}, strings.ToLower(text)):
		return errors.New("write 1 or 2; - if the word says nothing; Enter leaves it")
	case side:
		return nil
	case len(strange) > 0:
		return fmt.Errorf("%q is no word for a dot; backfield help drill lists them", strange[0])
	case strings.ContainsAny(text, "0123456789") && !strings.ContainsFunc(text, unicode.IsLetter):
		return fmt.Errorf("%q is a number and no word; write what the word means, such as outside", text)
	}
	return nil
}

// wordLines are the lines of [drill.words], "" where there are no words.
func wordLines(words []field.Word) string {
	if len(words) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("\n[drill.words]\n")
	for _, w := range words {
		fmt.Fprintf(&b, "%s = %s\n", table.Quote(w.From), table.Quote(w.To))
	}
	return b.String()
}

// wordAdvice is before the line of a word in a message.
const wordAdvice = "[drill.words]: "

// forWordFlag words what belongs under [drill.words] for someone who has no score yet.
func forWordFlag(x source.Problem) source.Problem {
	before, line, ok := strings.Cut(x.Do, wordAdvice)
	from, to, isPair := strings.Cut(line, " = ")
	if ok && isPair {
		arg := strings.Trim(from, `"`) + "=" + strings.ReplaceAll(strings.Trim(to, `"`), "...", "MEANING")
		x.Do = strings.TrimSuffix(strings.TrimSuffix(before, "in "), " ") + fmt.Sprintf(" with --word %q", arg)
	}
	return x
}
