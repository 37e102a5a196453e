package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/asking"
	"backfield/cmd/backfield/comparing"
	"backfield/cmd/backfield/hearing"
	"backfield/cmd/backfield/learning"
	"backfield/cmd/backfield/leveling"
	"backfield/cmd/backfield/mixerverbs"
	"backfield/cmd/backfield/musicverbs"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/layout/visible"
)

// lastWrite is how long the program waits for its last words to be written, before it ends without them.
const lastWrite = 500 * time.Millisecond

// execute is the whole program: it takes what main gives it and returns the exit code.
func execute(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := &cobra.Command{
		Use:   "backfield",
		Short: "compile a marching show's score and drill into mixer snapshots, and send them as OSC",
		Long: `Backfield computes every mixer channel's level, mute, pan and delay at every cue of a show whose brass
players wear wireless mics. It takes them from the drill, and sends them to the mixer as OSC.

SHOW is a score (show.toml) or its folder. In that folder you can leave it out where the usage
line shows [SHOW].`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.CompletionOptions.DisableDefaultCmd = true // ours has its own text
	root.SetArgs(verb.WithNight(args))
	out, errs := visible.NewWriter(stdout), visible.NewWriter(stderr)
	out.Shape(term.Wrapping(stdout))
	errs.Shape(term.Wrapping(stderr))
	root.SetOut(out)
	root.SetErr(errs)
	root.AddCommand(
		checkCommand(),
		compileCommand(),
		comparing.Diff(),
		explainCommand(),
		hearing.Listen(),
		mixerverbs.Send(),
		watchCommand(),
		compareCommand(),
		musicverbs.Parts(),
		musicverbs.Suggest(),
		tuneCommand(),
		leveling.Balance(),
		asking.Tonight(),
		mixerverbs.Run(),
		mixerverbs.LineCheck(),
		learning.Remote(),
		mixerverbs.Report(),
		mixerverbs.Store(),
		mixerverbs.Mixer(),
		pageCommand(),
		pictureCommand(),
		sheetCommand(),
		importCommand(),
		newCommand(),
		mixerverbs.Discover(),
		mixerverbs.Ping(),
		mixerverbs.Try(),
		schemaCommand(),
		completionCommand(),
		versionCommand(),
		manCommand(root),
	)
	root.Version = release
	root.SetVersionTemplate("backfield {{.Version}}\n")
	for old, now := range renamed {
		root.AddCommand(refused(old, now))
	}
	verb.VoiceFlags(root)
	root.SetFlagErrorFunc(verb.Mistyped)
	for _, c := range root.Commands() {
		completeArguments(c)
	}
	root.SetHelpCommand(helpCommand(root))
	window := term.IsTerminal(out) // one that is closed takes no result with it
	code := verb.ExitCode(root.ExecuteContext(ctx), errs)
	if term.Within(lastWrite, func() { out.Flush() }); !window && code != verb.ExitWorld {
		if err := unwritten(out); err != nil {
			code = verb.ExitCode(err, errs)
		}
	}
	term.Within(lastWrite, func() { errs.Flush() })
	return code
}

// unwritten says that something could not be written to the output, and why; nil if all was written. An output that was
// closed before the start is not found: the Go runtime opens the null device in its place, so that no file is opened
// under its number, and what a user wrote to the null device on purpose looks the same.
func unwritten(out io.Writer) error {
	if w, ok := out.(*visible.Writer); ok && w.Failed() != nil {
		return verb.Outside(fmt.Errorf("the output is not whole: %w", w.Failed()))
	}
	return nil
}
