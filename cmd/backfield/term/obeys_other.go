//go:build !windows

package term

import "os"

// obeys reports whether a terminal takes control sequences, by what it says of itself.
func obeys(*os.File) bool {
	kind := os.Getenv("TERM")
	return kind != "" && kind != "dumb"
}
