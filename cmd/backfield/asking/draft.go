package asking

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue/tonight"
	"backfield/layout/source"
)

// nightDraft is the answers about a night, as they are typed in full.
type nightDraft struct {
	absent, substitutes, cut, dead, swapped, notes []string
	from, standing, air                            string

	s   *show.Loaded
	dir string // of the file
}

// draftOf begins with what a file says that is there already.
func draftOf(s *show.Loaded, dir string) *nightDraft {
	d := &nightDraft{s: s, dir: dir}
	night := s.Night
	if night == nil {
		return d
	}
	for _, x := range night.Absent {
		d.absent = append(d.absent, x.V)
	}
	for _, x := range night.Substitutes {
		d.substitutes = append(d.substitutes, substituteLine(x))
	}
	for _, x := range night.Cuts {
		d.cut = append(d.cut, x.V)
	}
	for _, x := range night.Dead {
		text := x.Pack.V
		if x.Spare.Set {
			text += "=" + strconv.Itoa(x.Spare.V)
		}
		d.dead = append(d.dead, text)
	}
	for _, x := range night.Swapped {
		d.swapped = append(d.swapped, fmt.Sprintf("[%s, %s]", quoted(x.A.V), quoted(x.B.V)))
	}
	for _, x := range night.Notes {
		d.notes = append(d.notes, x.V)
	}
	d.from, d.standing = night.From.V, night.Standing.V
	if night.Air.Set {
		d.air = strings.Trim(night.Air.Span.File.Text[night.Air.Span.Start:night.Air.Span.End], `"'`)
	}
	return d
}

// substituteLine is a substitute as a line of the file.
func substituteLine(x tonight.Substitute) string {
	text := quoted(x.By.V)
	if x.Pack.Set || x.Dots.Set {
		text = "{ player = " + text
		if x.Pack.Set {
			text += fmt.Sprintf(", pack = %t", x.Pack.V)
		}
		if x.Dots.Set {
			text += ", dots = " + quoted(x.Dots.V)
		}
		text += " }"
	}
	return quoted(x.For.V) + " = " + text
}

// quoted is a string of a TOML file.
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func quotedList(list []string) string {
	all := make([]string, len(list))
	for i, x := range list {
		all[i] = quoted(x)
	}
	return "[" + strings.Join(all, ", ") + "]"
}

// text is the file.
func (d *nightDraft) text() string {
	var b strings.Builder
	line := func(key, value string) {
		if value != "" && value != "[]" && value != `""` {
			fmt.Fprintf(&b, "%s = %s\n", key, value)
		}
	}
	var dead []string
	for _, x := range d.dead {
		pack, channel, spare := strings.Cut(x, "=")
		if spare {
			dead = append(dead, fmt.Sprintf("{ %s = %s }", quoted(strings.TrimSpace(pack)), strings.TrimSpace(channel)))
		} else {
			dead = append(dead, quoted(x))
		}
	}
	line("absent", quotedList(d.absent))
	line("cut", quotedList(d.cut))
	line("from", quoted(d.from))
	line("standing", quoted(d.standing))
	line("dead", "["+strings.Join(dead, ", ")+"]")
	line("swapped", "["+strings.Join(d.swapped, ", ")+"]")
	line("air", quoted(d.air))
	line("notes", quotedList(d.notes))
	if len(d.substitutes) > 0 {
		fmt.Fprintf(&b, "\n[substitute]\n%s\n", strings.Join(d.substitutes, "\n"))
	}
	return b.String()
}

// problems are what is wrong with the night so far. A sheet of places is looked at when it is there.
func (d *nightDraft) problems() []source.Problem {
	var p source.Problems
	f := &source.File{Name: show.TonightFile, Text: d.text()}
	plan := tonight.Read(f, &p)
	if plan.Standing.Set && !plan.InSet() {
		plan.Places = show.OpenPlaces(d.dir, plan.Standing, &p)
	}
	if p.Errors() == 0 {
		plan.Apply(&d.s.Full, &p)
	}
	return p.All()
}

// check is the first error that the night has with an answer in it.
func (d *nightDraft) check(set func(*nightDraft)) error {
	tried := *d
	tried.substitutes = slices.Clone(d.substitutes)
	set(&tried)
	for _, x := range tried.problems() {
		if x.Severity == source.Error {
			return fmt.Errorf("%s; %s", x.What, x.Do)
		}
	}
	set(d)
	return nil
}
