package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/mixerverbs"
	"backfield/cmd/backfield/verb"
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
		mixerverbs.Send(),
		watchCommand(),
		compareCommand(),
		suggestCommand(),
		tuneCommand(),
		mixerverbs.Run(),
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
		schemaCommand(),
		completionCommand(),
		versionCommand(),
		manCommand(root),
	)
	root.Version = release
	root.SetVersionTemplate("backfield {{.Version}}\n")
	verb.VoiceFlags(root)
	for _, c := range root.Commands() {
		completeArguments(c)
	}
	root.SetHelpCommand(helpCommand(root))
	return verb.Farewell(root.ExecuteContext(ctx), stderr)
}
