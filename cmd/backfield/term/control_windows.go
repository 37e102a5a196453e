package term

import (
	"os"

	"golang.org/x/sys/windows"
)

// takesControlSequences reports whether a terminal takes control sequences. A Windows console (10 or later) does once
// it is switched to them; TERM is not set there. For input it only checks that there is a Windows console.
func takesControlSequences(f *os.File) bool {
	console := windows.Handle(f.Fd())
	var mode uint32
	if windows.GetConsoleMode(console, &mode) != nil {
		return false
	}
	var buffer windows.ConsoleScreenBufferInfo
	if windows.GetConsoleScreenBufferInfo(console, &buffer) != nil {
		return true // the input
	}
	return windows.SetConsoleMode(console, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}
