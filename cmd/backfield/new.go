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

// newFlags are the answers about a new show, from flags or from the terminal.
type newFlags struct {
	show          starter.NewShow
	stacks, packs string
	grid28        bool
	grid          string // "yes" or "no", the answer on the terminal
}

func newCommand() *cobra.Command {
	x := newFlags{grid: "no"}
	c := &cobra.Command{
		Use:   "new DIR",
		Short: "write a small, commented show to start from",
		Long: `Writes a small show into a new folder: score, drill, roster, rig and mixer, with each line explained. It
compiles as it is. On a terminal it asks for what you did not give as a flag; elsewhere it uses the
defaults. A folder that is not empty is left alone. See backfield help new.
Exit code 0: written; 2: wrong usage, or the folder is not empty; 3: it cannot be written.`,
		Args: verb.Exactly(1, "one DIR"),
		RunE: func(c *cobra.Command, args []string) error { return x.run(c, args[0]) },
	}
	f := c.Flags()
	f.StringVar(&x.show.Name, "name", "New Show", "the show's `NAME`")
	f.StringVar(&x.show.Field, "field", "college", "the field's `CODE`: "+strings.Join(field.Codes(), ", "))
	f.BoolVar(&x.grid28, "grid-28", false, "28 steps in depth reach the hash, on a high-school field")
	f.StringVar(&x.stacks, "stacks", "2", "`N` loudspeaker stacks: 2, 4 or 6")
	f.StringVar(&x.packs, "packs", "8", fmt.Sprintf("`N` wireless packs: %d to %d", starter.FewestPacks,
		starter.MostPacks))
	return c
}

func (x *newFlags) run(c *cobra.Command, dir string) error {
	x.show.Dir = verb.Quoted(dir)
	if err := empty(dir); err != nil {
		return err
	}
	if err := x.ask(c); err != nil {
		return err
	}
	files, err := x.show.Files()
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
		"backfield run %s --rehearse\n", x.show.Dir, x.show.Dir, x.show.Dir)
	return nil
}

// newQuestion asks on the terminal for what a flag did not say.
type newQuestion struct {
	flag, text string
	answer     *string
	check      func(string) error
}

func (x *newFlags) questions() []newQuestion {
	oneOf := func(list []string) func(string) error { return func(v string) error { return among(v, list) } }
	return []newQuestion{
		{"name", "Name of the show", &x.show.Name, starter.CheckName},
		{"field", "Field: " + strings.Join(field.Codes(), ", "), &x.show.Field, oneOf(field.Codes())},
		{"grid-28", "Drill on a 28-step grid (28 steps from sideline to hash): yes or no", &x.grid,
			oneOf([]string{"yes", "no"})},
		{"stacks", "Loudspeaker stacks: 2, 4 or 6", &x.stacks, oneOf(starter.StackCounts)},
		{"packs", fmt.Sprintf("Wireless packs: %d to %d", starter.FewestPacks, starter.MostPacks), &x.packs,
			starter.CheckPacks},
	}
}

// ask takes the answers from the flags, and the others from the terminal.
func (x *newFlags) ask(c *cobra.Command) error {
	silent := !term.CanAnswer(c.InOrStdin()) || !term.IsTerminal(c.ErrOrStderr())
	asker := term.NewAsker(c.InOrStdin(), c.ErrOrStderr(), silent)
	for _, q := range x.questions() {
		given := c.Flags().Changed(q.flag)
		if q.flag == "grid-28" && (given || x.show.Field != highSchool) {
			continue
		}
		if given {
			if err := q.check(*q.answer); err != nil {
				return verb.Wrong("--%s: %w", q.flag, err)
			}
		} else if err := asker.Put(q.text, q.answer, q.check); err != nil {
			return verb.Wrong("no answer, so nothing was written; give the answers as flags (backfield new --help)")
		}
	}
	if x.show.Grid28 = x.grid28 || x.grid == "yes"; x.show.Grid28 && x.show.Field != highSchool {
		return verb.Wrong("--grid-28 is for a high-school field; add --field high-school, or leave it out")
	}
	x.show.Name = strings.TrimSpace(x.show.Name)
	x.show.Stacks, _ = strconv.Atoi(x.stacks)
	x.show.Packs, _ = strconv.Atoi(x.packs)
	return nil
}

// highSchool is the field on which many drill books have a grid of 28 steps to the hash.
const highSchool = "high-school"

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

func among(v string, list []string) error {
	if !slices.Contains(list, v) {
		return fmt.Errorf("%q is not %s", v, source.OneOf(list))
	}
	return nil
}
