package main

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/schemas"
	"backfield/cmd/backfield/starter"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/layout/field"
	"backfield/layout/source"
)

func newCommand() *cobra.Command {
	var s starter.NewShow
	var dir, stacks, packs string
	var grid28 bool
	grid := "no"
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "write a small, commented show to start from",
		Long: `Writes a small show into a new folder: score, drill, roster, rig and mixer, with each line explained. It
compiles as it is. On a terminal it asks for what you did not give as a flag; elsewhere it uses the
defaults. A folder that is not empty is left alone. See backfield help new.
Exit code 0: written; 2: wrong usage, or the folder is not empty; 3: it cannot be written.`,
		Args: verb.Exactly(1, "one DIR"),
		RunE: func(c *cobra.Command, args []string) error {
			dir = args[0]
			s.Dir = verb.Quoted(dir)
			if err := empty(dir); err != nil {
				return err
			}
			ask := term.NewAsker(c.InOrStdin(), c.ErrOrStderr(), !term.CanAnswer(c.InOrStdin()) ||
				!term.IsTerminal(c.ErrOrStderr()))
			for _, q := range []struct {
				flag, question string
				value          *string
				check          func(string) error
				when           func() bool
			}{
				{"name", "Name of the show", &s.Name, checkName, always},
				{"field", "Field: " + strings.Join(field.Codes(), ", "), &s.Field,
					func(v string) error { return among(v, field.Codes()) }, always},
				{"grid-28", "Drill on a 28-step grid (28 steps from sideline to hash): yes or no", &grid,
					func(v string) error { return among(v, []string{"yes", "no"}) },
					func() bool { return s.Field == highSchool && !c.Flags().Changed("grid-28") }},
				{"stacks", "Loudspeaker stacks: 2, 4 or 6", &stacks,
					func(v string) error { return among(v, starter.StackCounts) }, always},
				{"packs", fmt.Sprintf("Wireless packs: %d to %d", starter.FewestPacks, starter.MostPacks), &packs,
					checkPacks, always},
			} {
				if !q.when() {
					continue
				}
				if !c.Flags().Changed(q.flag) {
					if err := ask.Put(q.question, q.value, q.check); err != nil {
						return verb.Wrong("no answer, so nothing was written; give the answers as flags " +
							"(backfield new --help)")
					}
				} else if err := q.check(*q.value); err != nil {
					return verb.Wrong("--%s: %w", q.flag, err)
				}
			}
			if s.Grid28 = grid28 || grid == "yes"; s.Grid28 && s.Field != highSchool {
				return verb.Wrong("--grid-28 is for a high-school field; add --field high-school, or leave it out")
			}
			s.Name = strings.TrimSpace(s.Name)
			s.Stacks, _ = strconv.Atoi(stacks)
			s.Packs, _ = strconv.Atoi(packs)
			files, err := s.Files()
			if err != nil {
				return err
			}
			for _, name := range []string{"score", "rig", "mixer"} {
				data, _ := schemas.Of(name)
				files = append(files, publish.OutputFile{Name: name + ".json", Data: data})
			}
			if err := publish.Files(dir, files); err != nil {
				return verb.Outside(err)
			}
			fmt.Fprintf(c.OutOrStdout(), "written to %s: %s\n", dir, strings.Join(publish.Names(files), ", "))
			fmt.Fprintf(c.ErrOrStderr(), "next:\n    backfield check %s\n    backfield explain %s 3 \"Tpt 1\"\n    "+
				"backfield run %s --rehearse\n", s.Dir, s.Dir, s.Dir)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&s.Name, "name", "New Show", "the show's `NAME`")
	f.StringVar(&s.Field, "field", "college", "the field's `CODE`: "+strings.Join(field.Codes(), ", "))
	f.BoolVar(&grid28, "grid-28", false, "28 steps in depth reach the hash, on a high-school field")
	f.StringVar(&stacks, "stacks", "2", "`N` loudspeaker stacks: 2, 4 or 6")
	f.StringVar(&packs, "packs", "8", fmt.Sprintf("`N` wireless packs: %d to %d", starter.FewestPacks,
		starter.MostPacks))
	return c
}

// highSchool is the field on which many drill books have a grid of 28 steps to the hash.
const highSchool = "high-school"

func always() bool { return true }

// empty refuses a folder that has anything in it. A folder that does not exist is fine.
func empty(dir string) error {
	list, err := os.ReadDir(dir)
	switch {
	case os.IsNotExist(err):
		return nil
	case err != nil:
		if info, statErr := os.Stat(dir); statErr == nil && !info.IsDir() {
			return verb.Wrong("%s is a file; name a new folder", dir)
		}
		return verb.Outside(err)
	case len(list) > 0:
		return verb.Wrong("%s is not empty (it has %s); name a new folder", dir, list[0].Name())
	}
	return nil
}

func checkName(v string) error {
	if strings.TrimSpace(v) == "" || strings.ContainsFunc(v, func(r rune) bool { return r < ' ' || r == 0x7F }) ||
		len(v) > 200 {
		return fmt.Errorf("a name must be one line of text")
	}
	return nil
}

func among(v string, list []string) error {
	if !slices.Contains(list, v) {
		return fmt.Errorf("%q is not %s", v, source.OneOf(list))
	}
	return nil
}

func checkPacks(v string) error {
	if n, err := strconv.Atoi(v); err != nil || n < starter.FewestPacks || n > starter.MostPacks {
		return fmt.Errorf("%q is not a whole number from %d to %d", v, starter.FewestPacks, starter.MostPacks)
	}
	return nil
}
