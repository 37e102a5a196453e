//go:build !linux

package wire

// systemAlarm returns nil, because Go's timer is the best one here.
func systemAlarm() *WakeTimer { return nil }
