package liverun

import (
	"cmp"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"backfield/osc/follow"
	"backfield/osc/presses"
	"backfield/osc/trigger"
	"backfield/osc/wire"
)

// followsTime reports whether the run goes by the time of another machine.
func (r *LiveRun) followsTime() bool { return r.show.Remote != nil && r.show.Remote.Time != nil }

// followTime has the run go by the time of another machine, if remote.toml says so.
func (r *LiveRun) followTime() {
	if !r.followsTime() {
		return
	}
	t, times := r.show.Remote.Time, r.show.Times()
	r.outer = r.Driver.Follow(follow.New(follow.OuterTime{
		Name: t.Name(), Rate: t.Expected(r.show.Clock.Movements[0].Tempo.BPM(0)), Say: t.Say,
		Show: func(outer float64) (showS, rate float64) { return t.Show(times, outer) },
	}))
}

// ear takes the time that the run goes by, if it comes from one of these places; else it is nil.
func (r *LiveRun) ear(from ...string) trigger.OuterEar {
	if !r.followsTime() || !slices.Contains(from, r.show.Remote.Time.From) {
		return nil
	}
	return r.outer
}

// MIDI takes commands and a time from a MIDI cable, until Close: from where, or from where remote.toml says if that is
// empty. It returns where that is, "" for nowhere.
func (r *LiveRun) MIDI(where string) (string, error) {
	remote := r.show.Remote
	if remote == nil {
		remote = &presses.Remote{}
	}
	if where = cmp.Or(where, remote.MIDI.V); where == "" {
		return "", nil
	}
	open, err := OpenMIDI(where)
	if err != nil {
		return "", fmt.Errorf("--midi: %w", err)
	}
	ear := r.ear(presses.FromTimeCode, presses.FromClock)
	p := trigger.ListenMIDI(where, open, remote, ear, r.doFrom, r.reportTrigger)
	r.closers = append(r.closers, func() { p.Close() })
	r.reached("by MIDI from " + where)
	return where, nil
}

// Unheard says that nothing can bring the time that the run goes by; "" if something can. osc and midi are whether
// commands come over OSC, and over MIDI.
func (r *LiveRun) Unheard(osc, midi bool) string {
	switch {
	case !r.followsTime():
	case r.show.Remote.Time.From == presses.FromOSC && !osc:
		return "remote.toml has the run go by a time over OSC, but nothing listens: add --listen, --from"
	case r.show.Remote.Time.From != presses.FromOSC && !midi:
		return fmt.Sprintf("remote.toml has the run go by %s, but no MIDI comes: add --midi PLACE",
			r.show.Remote.Time.Name())
	}
	return ""
}

// OpenMIDI is how a MIDI cable is opened: a device file, a named pipe, or "tcp:HOST:PORT". The error is for a place that
// can be none.
func OpenMIDI(where string) (open func() (io.ReadCloser, error), err error) {
	if at, ok := strings.CutPrefix(where, "tcp:"); ok {
		if _, err := wire.Address(at); err != nil {
			return nil, fmt.Errorf("%w (write tcp:127.0.0.1:9000)", err)
		}
		return func() (io.ReadCloser, error) { return wire.OpenBytes(at) }, nil
	}
	if info, err := os.Stat(where); err == nil && (info.IsDir() || info.Mode().IsRegular()) {
		return nil, fmt.Errorf("%s is neither a device nor a named pipe; name the MIDI device, such as /dev/midi1, "+
			"a named pipe, or tcp:127.0.0.1:9000", where)
	}
	return func() (io.ReadCloser, error) {
		mode := os.O_RDONLY
		if info, err := os.Stat(where); err == nil && info.Mode()&os.ModeNamedPipe != 0 {
			mode = os.O_RDWR // else it would end with each program that writes to it, and block until one does
		}
		return os.OpenFile(where, mode, 0)
	}, nil
}
