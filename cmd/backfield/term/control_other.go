//go:build !windows

package term

import "os"

// takesControlSequences reports whether a terminal takes control sequences, by the variable TERM.
func takesControlSequences(*os.File) bool {
	kind := os.Getenv("TERM")
	return kind != "" && kind != "dumb"
}
