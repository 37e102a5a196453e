//go:build !windows

package term

import "os"

// takesControlSequences reports whether a terminal takes control sequences, by what it says of itself.
func takesControlSequences(*os.File) bool {
	kind := os.Getenv("TERM")
	return kind != "" && kind != "dumb"
}
