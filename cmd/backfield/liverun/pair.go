package liverun

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/standby"
	"backfield/osc/standby/link"
)

// PairStart is how a run is one of two laptops; the zero PairStart is a run on one.
type PairStart struct {
	ListenAt  string        // HOST:PORT where this laptop, the first, waits for a standby
	FirstAt   string        // HOST:PORT of the first laptop, which this one stands by for
	Key       string        // that the first one has printed
	Automatic time.Duration // takes over by itself after this long of silence; 0 for never
}

// WrongPartner is the error of a first laptop that does not admit this one, or that runs another show.
type WrongPartner struct{ error }

// reachFirst calls the first laptop, if this one is to stand by for it, and waits until it answers.
func (r *LiveRun) reachFirst(ctx context.Context) error {
	o := r.o.Pair
	if o.FirstAt == "" {
		return nil
	}
	r.notices.Say("standby: calling laptop 1 at " + o.FirstAt)
	mark := r.showMark()
	l, err := link.Call(ctx, o.FirstAt, standby.NewCaller(o.Key), func(w link.Welcome) error {
		if w.Show != mark {
			return errors.New("laptop 1 runs another show, another version of it or another mixer.toml: " +
				"copy its folder to this laptop")
		}
		if r.id == "" {
			r.id = w.Run
		}
		if w.Run != r.id {
			return errors.New("laptop 1 has begun another run: end this one and start it again")
		}
		return nil
	})
	if final := (*link.Final)(nil); errors.As(err, &final) {
		return &WrongPartner{err}
	}
	r.link = l
	return err
}

// startPair makes the run one of two laptops, if it is.
func (r *LiveRun) startPair() error {
	o := live.PairOptions{
		Automatic: r.o.Pair.Automatic, Setup: r.plan(), Run: r.options(), Follow: r.follow,
	}
	if at := r.o.Pair.ListenAt; at != "" {
		key := link.NewKey()
		door := standby.NewDoor(key, r.id, r.showMark())
		var err error
		if r.link, err = link.Listen(context.Background(), at, door, r.reportPair); err != nil {
			return err
		}
		o.First = true
		o.Waiting = fmt.Sprintf("no standby yet: --standby %s with the key %s", r.link.Addr(), key)
		r.notices.Say("standby: on the second laptop, type: backfield run SHOW --standby " + r.link.Addr())
		r.notices.Say("standby: its key, for one laptop: " + key)
	}
	if r.link == nil {
		return nil
	}
	o.Send = r.link.Send
	r.pair = r.Driver.NewPair(o)
	if o.First { // else a standby that comes before the first cue has nothing to follow
		state := r.engine.State()
		r.pair.Record(journal.Entry{At: time.Now(), Kind: "state", State: &state})
	}
	r.link.Start(notedPair{r.pair, r})
	r.closers = append(r.closers, r.closeLink)
	return nil
}

// notedPair has the journal say that another laptop may run the show, before that laptop can do so.
type notedPair struct {
	*live.Pair
	r *LiveRun
}

// LinkUp says that the other laptop is connected and admitted.
func (p notedPair) LinkUp() {
	p.r.journal.Write(journal.Entry{At: time.Now(), Kind: "page", Linked: true, Text: "another laptop is connected"})
	p.Pair.LinkUp()
}

func (r *LiveRun) closeLink() {
	if r.link != nil {
		r.link.Close()
	}
}

// follow writes an entry of the other laptop in this one's journal, with its time on this laptop's clock.
func (r *LiveRun) follow(e journal.Entry) { r.journal.Write(e) }

// reportPair shows the operator what happens on the link.
func (r *LiveRun) reportPair(text string) {
	<-r.ready
	r.pair.ReportNotice(text)
}

// sends reports whether this laptop is the one that sends to the mixers.
func (r *LiveRun) sends() bool {
	v, _ := r.Driver.View()
	return !v.Follows()
}

// showMark is a mark of everything that goes to the mixers: two laptops with the same one run the same show at mixers of
// the same kind.
func (r *LiveRun) showMark() string {
	h := sha256.New()
	text, err := json.Marshal(r.show.Show)
	if err != nil {
		panic(fmt.Sprintf("liverun: a show that JSON cannot hold: %v", err)) // it is printed as JSON elsewhere
	}
	h.Write(text)
	for i := range r.show.Show.Cues {
		for _, x := range r.show.Mixer.Settings(&r.show.Show.Cues[i]) {
			fmt.Fprintln(h, x.Message)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// newRunID is a name for a run that no other has.
func newRunID() string {
	var random [8]byte
	rand.Read(random[:])
	return hex.EncodeToString(random[:])
}
