package importer

import (
	"fmt"
	"io"
	"strings"

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
		words = append(words, field.Word{From: from, To: strings.TrimSpace(to)})
	}
	return words, nil
}

// Guess proposes the layout of a sheet of dots. sure is false where it cannot and must; then it has said why.
func Guess(w io.Writer, path string, dots *source.File, ground field.Field, must bool) (c rows.Columns, sure bool) {
	var p source.Problems
	c, missing := guess.Columns(dots, ground, &p)
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

// AskWords asks what each word in a file's dots means that is not known, with put, which asks until the check accepts
// the answer; an empty answer leaves a word as it is.
func AskWords(dots *source.File, ground field.Field,
	put func(question string, value *string, check func(string) error) error) (words []field.Word) {
	list := guess.Strange(dots, ground)
	for _, word := range list[:min(len(list), mostAsked)] {
		question := fmt.Sprintf("%q in a dot: what does it mean? A word such as outside or front hash; - for nothing; "+
			"Enter if it is a mistake", word)
		if w := strings.ToLower(word); strings.HasPrefix(w, "l") || strings.HasPrefix(w, "r") {
			question = fmt.Sprintf("%q in a dot: side 1 is the audience's left, side 2 its right. Which is it", word)
		}
		answer := ""
		err := put(question, &answer, func(text string) error {
			if strange := ground.Strange(text); text != "-" && len(strange) > 0 {
				return fmt.Errorf("%q is no word for a dot; backfield help drill lists them", strange[0])
			}
			return nil
		})
		switch {
		case err != nil:
			return words
		case answer == "-":
			words = append(words, field.Word{From: word})
		case answer != "":
			words = append(words, field.Word{From: word, To: answer})
		}
	}
	return words
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
