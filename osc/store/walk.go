// Package store takes a mixer through the cues of a show and stores each one as a scene in the mixer. It sends a cue
// until the mixer has confirmed every value, then has the mixer store it. Afterward it can recall the scenes and
// compare them.
package store

import (
	"context"
	"errors"
	"fmt"
	"io"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// recalls is how often a recall is tried before its scene counts as wrong.
const recalls = 3

// Progress shows how far a walk is.
type Progress interface {
	Step(n, of int, what string) // step n, from 0, of so many begins
	Full(what string)            // all steps of one kind are done; what is "stored" or "recalled"
	End()
}

// Walk takes one mixer through the cues. It sends from its caller's goroutine and reads replies in another one.
type Walk struct {
	Dry io.Writer // if not nil, messages are printed there and count as confirmed; Open is not needed

	mixer    *mixer.Mixer
	cues     []cue.Snapshot
	to       string
	progress Progress
	link     mixerLink
	claims   claims
}

// Possible returns what the mixer file lacks to store so many snapshots, and to verify them if verify is set. It
// returns nil if nothing is missing.
func Possible(mixer *mixer.Mixer, snapshots int, verify bool) error {
	slots := mixer.Store
	switch {
	case slots == nil:
		return errors.New("mixer.toml does not say how the mixer stores a scene; " +
			"add [store] with its address and slots: see backfield help mixer")
	case snapshots == 0:
		return errors.New("the show has no cue to store")
	case snapshots > slots.Slots:
		return fmt.Errorf("the show has %s, but [store] in mixer.toml has %s from %d on; "+
			"give it more slots if the mixer has them", count(snapshots, "cue"),
			count(slots.Slots, "slot"), slots.First)
	case verify && mixer.Recall == nil:
		return errors.New("--verify: mixer.toml does not say how the mixer recalls a scene; " +
			"add [recall] with its address: see backfield help mixer")
	case verify && !mixer.CanConfirm():
		return errors.New("--verify: mixer.toml does not say how the mixer confirms what it holds; " +
			"add [echo] or [query]: see backfield help mixer")
	}
	return nil
}

func count(n int, noun string) string { return source.Count(float64(n), noun) }

// New makes a walk that stores cues in the mixer at an address, from its first slot on. Nothing is sent yet.
func New(mixer *mixer.Mixer, cues []cue.Snapshot, to string, p Progress) *Walk {
	target, _ := wire.Address(to)
	scenes := make([]cue.Snapshot, len(cues))
	for i := range cues {
		scenes[i] = cues[i].Scene()
	}
	return &Walk{
		mixer: mixer, cues: scenes, to: to, progress: p, link: newMixerLink(mixer),
		claims: newClaims(mixer, mixer.Repeat && target.Scheme == "udp"),
	}
}

// Open opens the link to the mixer. The error comes from the network.
func (w *Walk) Open() error { return w.link.open(w.to, w.claims.hear) }

// Close closes the link.
func (w *Walk) Close() { w.link.close() }

// Answers reports whether the mixer can confirm.
func (w *Walk) Answers() bool { return w.mixer.CanConfirm() }

// Slot is the mixer's slot for a cue, given by its index. The run recalls from the same slot.
func (w *Walk) Slot(i int) int { return w.mixer.Store.First + i }

func (w *Walk) title(i int) string { return mixer.SceneName(w.cues[i].ID, w.cues[i].Name) }

// All stores the cues from an index on, compares them if verify is set, and then closes every channel even after an
// error. The errors say from which cue to continue.
func (w *Walk) All(ctx context.Context, first int, verify bool) error {
	err := w.store(ctx, first)
	if err == nil && verify {
		err = w.verify(ctx, first)
	}
	w.progress.End()
	if open := w.closeAll(); open != nil {
		err = errors.Join(err, fmt.Errorf("open channels MAY STILL BE OPEN: %w", open))
	}
	return err
}

// store has the mixer store all cues from an index on.
func (w *Walk) store(ctx context.Context, first int) error {
	var before *cue.Snapshot
	for i := first; i < len(w.cues); i++ {
		s := &w.cues[i]
		w.progress.Step(i-first, len(w.cues)-first, fmt.Sprintf("slot %d: cue %s", w.Slot(i), w.title(i)))
		if err := w.storeOne(ctx, before, i); err != nil {
			return fmt.Errorf(
				"cue %s is not stored in slot %d: %w; to continue there: --from %s", s.ID, w.Slot(i), err, s.ID,
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

// verify recalls and compares each cue's slot from an index on. It reports all wrong slots together.
func (w *Walk) verify(ctx context.Context, first int) error {
	var bad []error
	for i := first; i < len(w.cues); i++ {
		s := &w.cues[i]
		what := fmt.Sprintf("recalling slot %d: cue %s", w.Slot(i), w.title(i))
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
			err = fmt.Errorf("slot %d could not be compared with cue %s: %w", w.Slot(i), s.ID, err)
			return errors.Join(append(bad, err)...)
		}
	}
	w.progress.Full("recalled")
	return errors.Join(bad...)
}

// recall has the mixer recall a slot and compares its replies. Before that it sets everything but closed channels to
// other values than the cue's, so an empty slot or a lost recall cannot pass.
func (w *Walk) recall(ctx context.Context, i int) (err error) {
	s := &w.cues[i]
	most := 1 // a mixer without a query reports the changes of a recall only once
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

// closeAll closes every channel of the show, also after an interruption.
func (w *Walk) closeAll() error {
	s := shut(&w.cues[len(w.cues)-1])
	return w.hold(context.Background(), nil, &s)
}

// hold takes the mixer from one snapshot, nil for unknown, to the next and waits until it is confirmed.
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

// unlike is a snapshot with every channel closed, and with other pans, delays, sends and parameters than the given one.
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

// other is low if a value is above a limit, else high: far from it either way.
func other(above bool, low, high float64) float64 {
	if above {
		return low
	}
	return high
}
