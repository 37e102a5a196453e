package main

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// execute is the whole program: it takes what main gives it and returns the exit code.
func execute(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := &cobra.Command{
		Use:   "backfield",
		Short: "compile a marching show's score and drill into mixer snapshots, and send them as OSC",
		Long: `Backfield computes, from the drill, every mixer channel's level, mute, pan and delay at every
cue of a show whose brass wear wireless mics, and sends them as OSC.

SHOW is a score (show.toml) or the folder that holds it.`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.CompletionOptions.DisableDefaultCmd = true // it has words of its own
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	root.AddCommand(
		checkCommand(),
		compileCommand(),
		diffCommand(),
		explainCommand(),
		sendCommand(),
		watchCommand(),
		compareCommand(),
		suggestCommand(),
		tuneCommand(),
		runCommand(),
		reportCommand(),
		storeCommand(),
		deskCommand(),
		pageCommand(),
		pictureCommand(),
		sheetCommand(),
		importCommand(),
		newCommand(),
		discoverCommand(),
		pingCommand(),
		schemaCommand(),
		completionCommand(),
		versionCommand(),
		manCommand(root),
	)
	root.Version = release
	root.SetVersionTemplate("backfield {{.Version}}\n")
	voiceFlags(root)
	for _, c := range root.Commands() {
		completeArguments(c)
	}
	root.SetHelpCommand(helpCommand(root))
	return farewell(root.ExecuteContext(ctx), stderr)
}

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

// exactly wants n arguments, named for the message.
func exactly(n int, names string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usage("%s wants %s, and got %d", c.Name(), names, len(args))
		}
		return nil
	}
}
