//go:build !linux && !darwin && !windows

package wire

import (
	"errors"
	"time"
)

// dropAfter does nothing: this system alone decides how long a silent connection stays open.
func dropAfter(uintptr, time.Duration) error { return errors.ErrUnsupported }
