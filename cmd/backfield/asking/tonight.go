// Package asking asks on the terminal what is different tonight, and writes the file that says so.
package asking

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
)

// Tonight is the command that asks about one night.
func Tonight() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "tonight [SHOW]",
		Short: "ask who is ill, what is cut and which packs are dead, and write tonight.toml",
		Long: `Asks what is different tonight, one line each: who is absent and who plays for them, what is cut, where
to begin, the rain plan, dead packs, the air, notes. Enter skips a question; if the file is there, Enter
keeps what it says, and "none" clears it. Names may be short: t3 is Tpt 3 where nothing else fits.
It shows the file, and asks before it writes it or replaces another. The show's files stay as they
are. Then use --tonight with check, diff, run and the others. See backfield help tonight.
Exit code 0: written, or you answered no; 1: the show cannot be read; 2: wrong usage, or the answers ended;
3: it cannot be written.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error { return ask(c, verb.Show(args), out) },
	}
	c.Flags().StringVarP(&out, "out", "o", "", "write this `FILE` (default: "+show.TonightFile+" next to the show)")
	return c
}

// ask asks, shows the file and writes it.
func ask(c *cobra.Command, arg, path string) error {
	if path == "" {
		path = filepath.Join(filepath.Dir(show.Path(arg)), show.TonightFile)
	}
	if filepath.Ext(path) != ".toml" {
		return verb.Wrong("--out %s: write a name that ends in .toml, as --tonight takes it", path)
	}
	flags := verb.ShowFlags{LoadOptions: show.LoadOptions{ReadOnly: true}}
	_, err := os.Stat(path)
	there := err == nil
	if there {
		flags.Tonight = path
	}
	s, problems, err := flags.Load(show.Disk{}, arg)
	if err != nil {
		return err
	}
	if len(s.Full.Roster.Players) == 0 {
		verb.PrintProblems(c, c.ErrOrStderr(), problems)
		return verb.Exit(verb.ExitProblems)
	}
	talk := c.ErrOrStderr()
	q := &nightAsker{draftOf(s, filepath.Dir(path)), term.NewAsker(c.InOrStdin(), talk, false)}
	fmt.Fprintf(talk, "What is different tonight? Enter skips a question.\n")
	if there {
		fmt.Fprintf(talk, "%s is there: Enter keeps what it says, \"none\" clears it.\n", path)
	}
	if err := q.all(); err != nil {
		return verb.Wrong("the answers ended, so nothing was written")
	}
	text := q.text()
	if text == "" && !there {
		fmt.Fprintln(talk, "Nothing is different tonight, so nothing was written.")
		return nil
	}
	fmt.Fprintf(talk, "\n%s\n", text)
	for _, x := range q.problems() {
		fmt.Fprintf(talk, "%s: %s; %s\n", x.Severity, x.What, x.Do)
	}
	question := "Write " + path + "?"
	if there {
		question = path + " is there. Replace it? Its comments and its [levels] are lost."
	}
	yes, err := q.asker.Yes(question)
	if err != nil {
		return verb.Wrong("no answer, so nothing was written")
	}
	if !yes {
		fmt.Fprintln(talk, "Nothing was written.")
		return nil
	}
	file := publish.OutputFile{Name: filepath.Base(path), Data: []byte(text)}
	if err := publish.Files(filepath.Dir(path), []publish.OutputFile{file}); err != nil {
		return verb.Outside(err)
	}
	fmt.Fprintf(c.OutOrStdout(), "written: %s\n", path)
	flag := "--tonight"
	if path != filepath.Join(filepath.Dir(show.Path(arg)), show.TonightFile) {
		flag += " " + verb.Quoted(path)
	}
	fmt.Fprintf(talk, "next:\n    backfield diff %s %s\n    backfield run %[1]s %[2]s\n", verb.Quoted(arg), flag)
	return nil
}

// nightAsker asks for a night.
type nightAsker struct {
	*nightDraft
	asker *term.Asker
}

func (q *nightAsker) all() error {
	list := []func() error{q.absentees, q.substitutesFor, q.cuts, q.begin, q.rain, q.deadPacks, q.theAir, q.theNotes}
	for _, ask := range list {
		if err := ask(); err != nil {
			return err
		}
	}
	return nil
}

// put asks a question. take makes the answer a part of the night; it is called with "" to clear it.
func (q *nightAsker) put(question, has string, take func(answer string) error) error {
	return q.asker.Put(question, &has, func(answer string) error {
		if strings.EqualFold(answer, "none") {
			answer = ""
		}
		return take(answer)
	})
}

// wearers are those who wear a pack.
func (q *nightAsker) wearers() []string {
	var list []string
	for _, w := range q.s.Full.Roster.Wears {
		if !slices.Contains(list, w.Player) {
			list = append(list, w.Player)
		}
	}
	return list
}

// absentees asks who is absent. Substitutes for those who are back go too.
func (q *nightAsker) absentees() error {
	names, sections := q.s.Full.Roster.Names(), q.s.Full.Roster.Sections()
	return q.put("Who is absent (such as Tpt 3, @tuba)", strings.Join(q.absent, ", "), func(answer string) error {
		var list []string
		for _, x := range splitAnswer(answer) {
			section, isSection := strings.CutPrefix(x, "@")
			from, what, at := names, "player", ""
			if isSection {
				from, what, at = sections, "section", "@"
			}
			name, err := nameFor(strings.TrimSpace(section), from, q.wearers(), what)
			if err != nil {
				return err
			}
			list = append(list, at+name)
		}
		return q.check(func(d *nightDraft) {
			d.absent = list
			d.substitutes = slices.DeleteFunc(d.substitutes, func(line string) bool {
				is := func(x string) bool { return strings.HasPrefix(line, quoted(x)+" = ") }
				return !slices.ContainsFunc(list, is)
			})
		})
	})
}

// substitutesFor asks who plays for each who is absent and has a mic.
func (q *nightAsker) substitutesFor() error {
	for _, name := range q.absent {
		var others []string
		wears, section := false, ""
		for _, w := range q.s.Full.Roster.Wears {
			if w.Player == name {
				wears, section = true, w.Section
			}
		}
		for _, w := range q.s.Full.Roster.Wears {
			if w.Section == section && w.Player != name && !slices.Contains(q.absent, w.Player) {
				others = append(others, w.Player)
			}
		}
		if !wears {
			continue
		}
		line := func(by string) string { return quoted(name) + " = " + quoted(by) }
		question := fmt.Sprintf("Who plays for %s (with a pack: %s)", name, strings.Join(slices.Compact(others), ", "))
		if len(others) == 0 {
			question = fmt.Sprintf("Who plays for %s, and takes their pack", name)
		}
		has := ""
		at := slices.IndexFunc(q.substitutes, func(x string) bool { return strings.HasPrefix(x, quoted(name)+" = ") })
		if at >= 0 {
			_, has, _ = strings.Cut(q.substitutes[at], " = ")
			has = strings.Trim(has, `"`)
		}
		err := q.put(question, has, func(answer string) error {
			by := ""
			if answer != "" {
				var err error
				if by, err = nameFor(answer, q.s.Full.Roster.Names(), q.wearers(), "player"); err != nil {
					return err
				}
			}
			return q.check(func(d *nightDraft) {
				d.substitutes = slices.DeleteFunc(d.substitutes, func(x string) bool {
					return strings.HasPrefix(x, quoted(name)+" = ")
				})
				if by != "" {
					d.substitutes = append(d.substitutes, line(by))
				}
			})
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (q *nightAsker) cuts() error {
	const question = "What is cut (such as movement 2, set 14 .. set 17)"
	return q.put(question, strings.Join(q.cut, ", "), func(answer string) error {
		return q.check(func(d *nightDraft) { d.cut = splitAnswer(answer) })
	})
}

func (q *nightAsker) begin() error {
	return q.put("Where does it begin (such as set 20)", q.from, func(answer string) error {
		return q.check(func(d *nightDraft) { d.from = answer })
	})
}

func (q *nightAsker) rain() error {
	return q.put("Rain: where does everybody stand (such as set 12, rain.csv)", q.standing, func(answer string) error {
		return q.check(func(d *nightDraft) { d.standing = answer })
	})
}

// deadPacks asks for packs by their names or their players'.
func (q *nightAsker) deadPacks() error {
	var packs []string
	for _, w := range q.s.Full.Roster.Wears {
		if w.Pack != "" && !slices.Contains(packs, w.Pack) {
			packs = append(packs, w.Pack)
		}
	}
	question := "Dead packs (such as P07, or P07=21 with a spare on channel 21)"
	return q.put(question, strings.Join(q.dead, ", "), func(answer string) error {
		var list []string
		for _, x := range splitAnswer(answer) {
			pack, channel, spare := strings.Cut(x, "=")
			name, err := nameFor(strings.TrimSpace(pack), packs, nil, "pack")
			if err != nil {
				player, other := nameFor(strings.TrimSpace(pack), q.wearers(), nil, "player")
				if other != nil {
					return err
				}
				name = player
			}
			if spare {
				if strings.Trim(strings.TrimSpace(channel), "0123456789") != "" || strings.TrimSpace(channel) == "" {
					return errors.New("write the channel of the spare as a number, such as P07=21")
				}
				name += "=" + strings.TrimSpace(channel)
			}
			list = append(list, name)
		}
		return q.check(func(d *nightDraft) { d.dead = list })
	})
}

func (q *nightAsker) theAir() error {
	return q.put("Air temperature (such as 61 F)", q.air, func(answer string) error {
		if answer != "" {
			if _, err := show.Air(answer); err != nil {
				return err
			}
		}
		return q.check(func(d *nightDraft) { d.air = answer })
	})
}

func (q *nightAsker) theNotes() error {
	return q.put("A note for the crew", strings.Join(q.notes, "; "), func(answer string) error {
		return q.check(func(d *nightDraft) {
			d.notes = nil
			if answer != "" {
				d.notes = []string{answer}
			}
		})
	})
}
