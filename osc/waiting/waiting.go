// Package waiting runs the tests of a package that mostly wait, for a timer, a network or another process. The command
// itself does not use it.
package waiting

import (
	"flag"
	"testing"
)

// atOnce is how many parallel tests run at once: waiting costs no processor.
const atOnce = "8"

// Run runs the tests, more at once than there are cores unless -parallel says how many, and returns the exit code.
func Run(m *testing.M) int {
	flag.Parse()
	given := false
	flag.Visit(func(f *flag.Flag) { given = given || f.Name == "test.parallel" })
	if !given {
		flag.Set("test.parallel", atOnce)
	}
	return m.Run()
}
