package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// showFlags are the flags of every command that reads a show.
type showFlags struct{ show.Options }

func (f *showFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.Venue, "venue", "", "lay this venue `FILE` over the rig, in place of the score's own")
	c.Flags().StringVar(&f.Air, "air", "", "air `TEMPERATURE` of the night, such as \"88 F\" or \"31 C\", in place of the rig's")
}

// load reads and compiles the show that an argument names. Problems are returned, not printed.
func (f *showFlags) load(rd show.Reader, arg string) (*show.Show, []source.Problem, error) {
	if f.Air != "" {
		if _, err := show.Air(f.Air); err != nil {
			return nil, nil, wrong("--air: %w; write it as \"88 F\" or \"31 C\"", err)
		}
	}
	var p source.Problems
	s, err := show.Load(rd, show.Path(arg), f.Options, &p)
	if err != nil {
		return s, nil, world(err)
	}
	return s, p.All(), nil
}

// watched is load that shows how far it is, and tells with --verbose what it read.
func (f *showFlags) watched(c *cobra.Command, rd show.Reader, arg string) (*show.Show, []source.Problem, error) {
	bar, began := newBar(c, "compiling"), time.Now()
	f.Progress = bar.Show
	s, problems, err := f.load(rd, arg)
	f.Progress = nil
	bar.End()
	if s != nil {
		for _, file := range s.Files {
			detail(c, "read: %s", file)
		}
		detail(c, "read and compiled in %.2f s", time.Since(began).Seconds())
	}
	return s, problems, err
}

// faultless is load for commands that need a show without errors: it prints what is wrong and ends them.
func (f *showFlags) faultless(c *cobra.Command, rd show.Reader, arg string) (*show.Show, []source.Problem, error) {
	s, problems, err := f.watched(c, rd, arg)
	if err != nil {
		return nil, nil, err
	}
	if s.Result.Show == nil {
		printProblems(c, c.ErrOrStderr(), problems)
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was done\n", show.Path(arg), problemlist.Tally(problems))
		return nil, nil, told(exitProblems)
	}
	return s, problems, nil
}

// compiled is faultless for commands whose result is about something else than what is wrong: of warnings they
// say how many there are.
func (f *showFlags) compiled(c *cobra.Command, rd show.Reader, arg string) (*show.Show, []source.Problem, error) {
	s, problems, err := f.faultless(c, rd, arg)
	f.mention(c, problems, arg)
	return s, problems, err
}

// mention says in one line how many warnings there are, and what lists them.
func (f *showFlags) mention(c *cobra.Command, warnings []source.Problem, arg string) {
	switch {
	case len(warnings) == 0:
	case f.Bare: // for which check has no flag
		aside(c, "check: %s", problemlist.Tally(warnings))
	default:
		aside(c, "check: %s (see %s)", problemlist.Tally(warnings), f.check(arg))
	}
}

// check is the command line that tells the problems of the show as these flags make it.
func (f *showFlags) check(arg string) string {
	words := []string{"backfield", "check", arg}
	if f.Venue != "" {
		words = append(words, "--venue", f.Venue)
	}
	if f.Air != "" {
		words = append(words, "--air", f.Air)
	}
	for i, w := range words {
		if w == "" || strings.ContainsAny(w, " \t\"'$&;()*?<>|") {
			words[i] = strconv.Quote(w)
		}
	}
	return strings.Join(words, " ")
}
