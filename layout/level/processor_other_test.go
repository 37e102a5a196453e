//go:build !unix

package level_test

import "time"

var begun = time.Now()

// processorTime is the wall's clock, where the processor's is not known.
func processorTime() time.Duration { return time.Since(begun) }
