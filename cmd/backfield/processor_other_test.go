//go:build !unix

package main

import "time"

var processStart = time.Now()

// processorTime is the wall's clock, where the processor's is not known.
func processorTime() time.Duration { return time.Since(processStart) }
