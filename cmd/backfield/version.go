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

// release is the version, by semver.org: files and commands that worked go on working until the first number changes, or
// while it is 0 the second. A build may set it: -ldflags "-X main.release=0.5.0+local".
var release = "0.5.0"

func versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "say which version this is, and what it was built from",
		Long: `Says which version this is, what it was built from, and which formats of its own files it writes; it reads
the older ones as well. See backfield help changelog for what is new.`,
		Args: verb.Exactly(0, "no argument"),
		RunE: func(c *cobra.Command, args []string) error {
			info, _ := debug.ReadBuildInfo()
			return verb.World(tellVersion(c.OutOrStdout(), info))
		},
	}
}

// tellVersion tells what is known of a build; info may be nil.
func tellVersion(w io.Writer, info *debug.BuildInfo) error {
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
				text += ", with changes that are not in it"
			}
			text += "\n"
		}
	}
	text += fmt.Sprintf("built by: %s for %s/%s\n", runtime.Version(), runtime.GOOS, runtime.GOARCH)
	text += fmt.Sprintf("formats:  snapshots.json %d, journal %d\n", cue.Format, journal.Format)
	_, err := io.WriteString(w, text)
	return err
}
