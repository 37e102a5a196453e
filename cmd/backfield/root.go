package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"
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

// exactly wants n arguments, named for the message.
func exactly(n int, names string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usage("%s wants %s, and got %d", c.Name(), names, len(args))
		}
		return nil
	}
}
