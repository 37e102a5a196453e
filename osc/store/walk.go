// Package store walks a mixer through the cues of a show, so that it stores each of them as a scene of its own: it
// sends a cue until the mixer has confirmed every value, then has it stored. It can recall the scenes afterwards and
// compare.
package store

import (
	"context"
	"errors"
	"fmt"
	"io"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// recalls is how often a mixer is asked to recall a scene, if it seems not to have.
const recalls = 3

// Progress is told how far a walk is.
type Progress interface {
	Step(n, of int, what string) // step n of so many is begun
	Full(what string)            // all steps of a kind are done
	End()
}

// Walk is one mixer that is walked through the cues. It sends from the goroutine of its caller; another one hears the
// mixer.
type Walk struct {
	Dry io.Writer // not nil: messages are printed there, and taken as confirmed; Open is not needed then

	mixer    *mixer.Mixer
	cues     []cue.Snapshot
	to       string
	progress Progress
	link     mixerLink
	claims   claims
}

// Possible says what the mixer file lacks to store so many snapshots, and to recall them too if they are to be
// verified.
func Possible(mixer *mixer.Mixer, snapshots int, verify bool) error {
	slots := mixer.Store
	switch {
	case slots == nil:
		return errors.New("mixer.toml does not say how the mixer stores a scene; " +
			"add [store] with its address and slots: see backfield help mixer")
	case snapshots == 0:
		return errors.New("the show has no cue to store")
	case snapshots > slots.Slots:
		return fmt.Errorf("the show has %s, follow-ons counted, and [store] in mixer.toml has %s from %d on; "+
			"give it more slots if the mixer has them", count(snapshots, "snapshot"),
			count(slots.Slots, "slot"), slots.First)
	case verify && mixer.Recall == nil:
		return errors.New("--verify: mixer.toml does not say how the mixer recalls a scene; " +
			"add [recall] with its address: see backfield help mixer")
	case verify && !feed.CanConfirm(mixer):
		return errors.New("--verify: mixer.toml says of no way to learn what the mixer holds; " +
			"add [echo] or [query] if it has one: see backfield help mixer")
	}
	return nil
}

func count(n int, noun string) string { return source.Count(float64(n), noun) }

// New makes a walk that has not begun, through cues that are stored in the mixer at an address from its first slot on.
func New(mixer *mixer.Mixer, cues []cue.Snapshot, to string, p Progress) *Walk {
	target, _ := wire.Address(to)
	return &Walk{
		mixer: mixer, cues: cues, to: to, progress: p, link: newMixerLink(mixer),
		claims: newClaims(mixer, mixer.Repeat && target.Scheme == "udp"),
	}
}

// Open opens the link to the mixer. The error is the network's.
func (w *Walk) Open() error { return w.link.open(w.to, w.claims.hear) }

// Close closes the link.
func (w *Walk) Close() { w.link.close() }

// Answers reports whether the mixer confirms at all.
func (w *Walk) Answers() bool { return feed.CanConfirm(w.mixer) }

// Slot is the mixer's slot for a cue. The run recalls by the same.
func (w *Walk) Slot(i int) int { return w.mixer.Store.First + i }

func (w *Walk) title(i int) string { return mixer.SceneName(w.cues[i].ID, w.cues[i].Name) }

// All stores the cues from one on, compares them if that is wanted, and closes every channel, whatever came before. The
// errors say where to go on.
func (w *Walk) All(ctx context.Context, first int, verify bool) error {
	err := w.store(ctx, first)
	if err == nil && verify {
		err = w.verify(ctx, first)
	}
	w.progress.End()
	if open := w.closeAll(); open != nil {
		err = errors.Join(err, fmt.Errorf("channels that were open MAY BE OPEN STILL: %w", open))
	}
	return err
}

// store has the mixer store all cues from one on.
func (w *Walk) store(ctx context.Context, first int) error {
	var before *cue.Snapshot
	for i := first; i < len(w.cues); i++ {
		s := &w.cues[i]
		w.progress.Step(i-first, len(w.cues)-first, fmt.Sprintf("slot %d: cue %s", w.Slot(i), w.title(i)))
		if err := w.storeOne(ctx, before, i); err != nil {
			return fmt.Errorf(
				"cue %s is not stored in slot %d: %w; --from %s goes on there", s.ID, w.Slot(i), err, s.ID,
			)
		}
		before = s
	}
	w.progress.Full("stored")
	return nil
}

func (w *Walk) storeOne(ctx context.Context, before *cue.Snapshot, i int) error {
	if err := w.hold(ctx, before, &w.cues[i]); err != nil {
		return err
	}
	if err := w.send(ctx, w.mixer.Store.Message(w.Slot(i), w.title(i))); err != nil {
		return err
	}
	return w.wait(ctx, w.settle())
}

// verify recalls each slot from one on and compares. All cues that are not there are reported at once.
func (w *Walk) verify(ctx context.Context, first int) error {
	var bad []error
	for i := first; i < len(w.cues); i++ {
		s := &w.cues[i]
		what := fmt.Sprintf("slot %d is recalled: cue %s", w.Slot(i), w.title(i))
		w.progress.Step(i-first, len(w.cues)-first, what)
		err := w.recall(ctx, i)
		switch {
		case err == nil:
		case differs(err):
			bad = append(
				bad,
				fmt.Errorf("slot %d does not hold cue %s: %w; store it again: --from %s", w.Slot(i), s.ID, err, s.ID),
			)
		default:
			err = fmt.Errorf("slot %d is not compared with cue %s: %w", w.Slot(i), s.ID, err)
			return errors.Join(append(bad, err)...)
		}
	}
	w.progress.Full("recalled")
	return errors.Join(bad...)
}

// recall has the mixer recall a slot, and compares what it then says. It comes from a state that has nothing in common
// with the cue but what is closed: a slot that is empty, or a recall that is lost, cannot pass.
func (w *Walk) recall(ctx context.Context, i int) (err error) {
	s := &w.cues[i]
	most := 1 // a mixer that cannot be asked speaks of what a recall changes, once
	if w.mixer.Query != nil {
		most = tries
	}
	for range recalls {
		if err = w.hold(ctx, nil, unlike(w.mixer, s)); err != nil {
			return err
		}
		first := []osc.Message{w.mixer.Recall.Message(w.Slot(i), w.title(i))}
		err = w.agree(ctx, s, most, w.settle(), func([]osc.Message) []osc.Message {
			defer func() { first = nil }()
			return first
		})
		if !differs(err) {
			return err
		}
	}
	return err
}

// closeAll closes every channel of the show. It does so after an interruption, too.
func (w *Walk) closeAll() error {
	s := shut(&w.cues[len(w.cues)-1])
	return w.hold(context.Background(), nil, &s)
}

// hold leads the mixer from one snapshot to the next, nil for not known, and waits until it holds that.
func (w *Walk) hold(ctx context.Context, before, s *cue.Snapshot) error {
	list := w.mixer.Messages(before, s)
	first := true
	return w.agree(ctx, s, tries, 0, func(missing []osc.Message) []osc.Message {
		if first {
			first = false
			return list
		}
		return missing
	})
}

// shut is a snapshot with every channel closed.
func shut(s *cue.Snapshot) cue.Snapshot {
	out := *s
	out.Channels = nil
	for _, c := range s.Channels {
		c.Open, c.Role, c.LevelDB = false, "", cue.Silent
		out.Channels = append(out.Channels, c)
	}
	return out
}

// unlike is a state with every channel closed, and with pans, delays, sends and parameters that the snapshot does not
// have.
func unlike(mixer *mixer.Mixer, s *cue.Snapshot) *cue.Snapshot {
	out := shut(s)
	for i := range out.Channels {
		c := &out.Channels[i]
		c.Pan = other(c.Pan > 0, -1, 1)
		c.DelayMS = other(c.DelayMS > 0, 0, 20)
		c.Params = nil
		for _, x := range mixer.Own() {
			v, ok := s.Channels[i].Value(x.Name)
			if !ok {
				v = x.Default
			}
			c.Params = append(c.Params, cue.ParamValue{Name: x.Name, Value: mixer.DifferentValue(x.Name, v)})
		}
		c.Sends = nil
		for _, x := range s.Channels[i].Sends {
			x.LevelDB = cue.Level(other(x.LevelDB > -40, float64(cue.Silent), -20))
			c.Sends = append(c.Sends, x)
		}
	}
	return &out
}

// other is a value far from one that is above a limit, or far from one that is not.
func other(above bool, low, high float64) float64 {
	if above {
		return low
	}
	return high
}
