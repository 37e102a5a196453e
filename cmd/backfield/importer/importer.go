// Package importer puts into words how a drill sheet of another layout was understood, and takes corrections to that.
// The guess itself is in layout/drill/guess.
package importer

import (
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"backfield/layout/drill"
	"backfield/layout/drill/guess"
	"backfield/layout/field"
	"backfield/layout/rows"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Ground is the field of a code, with the grid of 28 steps if the drill counts its depth in them.
func Ground(code string, grid28 bool) (field.Field, error) {
	ground, ok := field.ByCode(code)
	if !ok {
		return ground, fmt.Errorf("unknown field %q; %s", code, source.DidYouMean(code, field.Codes(),
			"it is "+source.OneOf(field.Codes())))
	}
	if grid28 {
		ground = ground.Grid28()
	}
	return ground, nil
}

// Override lays what --column says, lines KEY=NAME, over columns that were guessed: as a score would, so that the same
// is taken and refused. The error names the flag.
func Override(c *rows.Columns, given []string) error {
	var own, sets strings.Builder
	for _, line := range given {
		key, value, ok := strings.Cut(line, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if !ok || key == "" || strings.ContainsAny(key, " \"'\n[]") {
			return fmt.Errorf("--column %q: write KEY=NAME, such as player=Performer", line)
		}
		into := &own
		if rest, of := strings.CutPrefix(key, "sets."); of {
			key, into = rest, &sets
		}
		switch key {
		case "header", "last", "hold_after", "transposed":
		case "player":
			if !strings.HasPrefix(value, "[") { // else it is a list of names
				value = table.Quote(value)
			}
		case "movement":
			if strings.Trim(value, "0123456789") != "" {
				value = table.Quote(value)
			}
		default:
			value = table.Quote(value)
		}
		fmt.Fprintf(into, "%s = %s\n", key, value)
	}
	text := own.String()
	if sets.Len() > 0 {
		text += "[sets]\n" + sets.String()
	}
	f, err := source.Open("--column", []byte(text), table.TOMLLimit)
	if err != nil {
		return fmt.Errorf("--column: %w", err)
	}
	var p source.Problems
	if text != "" {
		table.Decode(table.ReadTOML(f, &p), c, &p)
	}
	if list := p.All(); len(list) > 0 {
		return fmt.Errorf("--column: %s; %s", list[0].What, list[0].Do)
	}
	return nil
}

// Lines are those of a score that uses the sheet of dots as it is, from the folder that the sheet is in. sets is the
// path of the sheet of sets, empty where they are with the dots. Where the drill is written into dir, only the layout.
func Lines(path, sets, dir string, c *rows.Columns, words []field.Word) string {
	if dir != "" {
		return c.TOML()
	}
	var b strings.Builder
	b.WriteString("[drill]\n")
	if sets != "" {
		fmt.Fprintf(&b, "sets = %s\n", table.Quote(filepath.Base(sets)))
	}
	fmt.Fprintf(&b, "dots = %s\n\n%s%s", table.Quote(filepath.Base(path)), c.TOML(), wordLines(words))
	return b.String()
}

var (
	// keyLine is a line of [drill.columns] in a message.
	keyLine = regexp.MustCompile(`(\w+) = ("[^"]*"|\d+|N\b)`)
	inTable = regexp.MustCompile(` in \[drill\.columns\]( of the score)?`)
)

// ForFlags words problems for someone who has no score yet: what belongs under [drill.columns] is said with --column.
func ForFlags(problems []source.Problem) (list []source.Problem) {
	for _, x := range problems {
		list = append(list, forWordFlag(forFlags(x)))
	}
	return list
}

func forFlags(x source.Problem) source.Problem {
	with := " with --column"
	if keyLine.MatchString(x.Do) {
		with = ""
	}
	x.Do = inTable.ReplaceAllString(x.Do, with)
	x.Do = keyLine.ReplaceAllStringFunc(x.Do, func(line string) string {
		m := keyLine.FindStringSubmatch(line)
		value := strings.Trim(m[2], `"`)
		if value == "..." {
			value = "NAME"
		}
		arg := m[1] + "=" + value
		if strings.ContainsAny(arg, " {}") {
			arg = strconv.Quote(arg)
		}
		return "--column " + arg
	})
	return x
}

// Describe writes what was understood, for someone who knows the drill: sizes, the lines that say how it was read, ten
// dots in words and on a sketch of the field, and the counts.
func Describe(w io.Writer, d *drill.Drill, lines string) {
	fmt.Fprintf(w, "%s, %s in %s, on the %s field\n\n%s\n", count(len(d.Players), "player"), count(len(d.Sets), "set"),
		count(d.Movements(), "movement"), d.Field.Code, lines)
	var marks []sketchMark
	for i, s := range guess.Sample(d, 10) {
		x := d.Players[s.Player]
		dot := x.Dots[s.Set]
		letter := rune('A' + i)
		marks = append(marks, sketchMark{dot.At, letter})
		fmt.Fprintf(w, "  %c  %s, set %s: %s\n     is %s\n", letter, x.Name, d.Sets[s.Set].Label, x.Words(s.Set),
			d.Field.Dot(dot.At))
	}
	fmt.Fprintln(w)
	for _, line := range sketch(d.Field, marks) {
		fmt.Fprintln(w, "  "+line)
	}
	fmt.Fprintln(w)
	var counts []string
	for i := range min(len(d.Sets), 10) {
		s := d.Sets[i]
		text := fmt.Sprintf("%s %d", s.Label, s.Counts)
		if s.Hold > 0 {
			text += fmt.Sprintf(" (%d hold)", s.Hold)
		}
		counts = append(counts, text)
	}
	if more := len(d.Sets) - 10; more > 0 {
		counts = append(counts, fmt.Sprintf("%d more", more))
	}
	fmt.Fprintf(w, "counts into each set, with the hold: %s\n", strings.Join(counts, ", "))
}

func count(n int, word string) string { return source.Count(float64(n), word) }
