package verb

import (
	"os"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/show"
)

// here is the show that a command takes when the command line names none.
const here = "."

// OneShow requires one SHOW, which may be left out in a show's folder.
func OneShow(c *cobra.Command, args []string) error {
	if len(args) > 1 {
		return Usage("%s takes one SHOW, not %d arguments", c.Name(), len(args))
	}
	if len(args) == 1 {
		return nil
	}
	if _, err := os.Stat(show.Path(here)); err != nil {
		return Usage("%s: no show.toml in this folder; name a SHOW, or go to its folder", c.Name())
	}
	return nil
}

// Show is the SHOW of a command that takes one, after OneShow.
func Show(args []string) string {
	if len(args) == 0 {
		return here
	}
	return args[0]
}
