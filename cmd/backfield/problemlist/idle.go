package problemlist

import (
	"fmt"
	"strings"

	"backfield/layout/source"
)

// mostIdle is how many things that changed nothing are listed.
const mostIdle = 40

// Idle lists what changed nothing, a line each with its place; "" where there is nothing.
func Idle(list []source.Idle) string {
	if len(list) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("without effect here:\n")
	for _, x := range list[:min(len(list), mostIdle)] {
		fmt.Fprintf(&b, "    %s: %s\n", x.Span.Where(), x.What)
	}
	if more := len(list) - mostIdle; more > 0 {
		fmt.Fprintf(&b, "    and %d more\n", more)
	}
	return b.String()
}
