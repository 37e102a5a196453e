package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/osc/journal"
)

// release is the version, by semver.org: files and commands keep working until the first number changes, or the second
// while the first is 0. A build may set it: -ldflags "-X main.release=0.6.0+local".
var release = "0.6.0"

func versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "print the version, and what it was built from",
		Long: `Prints the version, what it was built from, and the formats of the files that it writes. It reads older
formats too. For what is new, see backfield help changelog.`,
		Args: verb.Exactly(0, "no argument"),
		RunE: func(c *cobra.Command, args []string) error {
			info, _ := debug.ReadBuildInfo()
			return verb.Outside(printVersion(c.OutOrStdout(), info))
		},
	}
}

// printVersion prints what is known about a build; info may be nil.
func printVersion(w io.Writer, info *debug.BuildInfo) error {
	text := "backfield " + release + "\n"
	if info != nil {
		if v := info.Main.Version; v != "" && v != "(devel)" {
			text += "module:   " + info.Main.Path + " " + v + "\n"
		}
		facts := map[string]string{}
		for _, s := range info.Settings {
			facts[s.Key] = s.Value
		}
		if rev := facts["vcs.revision"]; rev != "" {
			text += fmt.Sprintf("revision: %s of %s", rev, facts["vcs.time"])
			if facts["vcs.modified"] == "true" {
				text += ", with uncommitted changes"
			}
			text += "\n"
		}
	}
	text += fmt.Sprintf("built by: %s for %s/%s\n", runtime.Version(), runtime.GOOS, runtime.GOARCH)
	text += fmt.Sprintf("formats:  snapshots.json %d, journal %d\n", cue.Format, journal.Format)
	_, err := io.WriteString(w, text)
	return err
}
