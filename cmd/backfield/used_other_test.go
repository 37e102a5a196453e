//go:build !unix

package main

import (
	"os"
	"time"
)

var begun = time.Now()

// processorTime is the wall's clock, where the processor's is not known.
func processorTime() time.Duration { return time.Since(begun) }

// peakMB is not known here.
func peakMB(*os.ProcessState) float64 { return 0 }
