//go:build !linux

package wire

// systemAlarm is nil: here Go's timer is the best there is.
func systemAlarm() *Alarm { return nil }
