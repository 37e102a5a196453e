package remote

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"sync"
	"time"

	"backfield/osc/glance"
	"backfield/osc/run"
)

const (
	lookEvery = 100 * time.Millisecond // between two looks at the run
	beatEvery = 500 * time.Millisecond // a page gets a message at least this often
)

// picture is what all pages show: the run's view, and where the players are whose mics are open or open next.
type picture struct {
	View   run.View       `json:"view"`
	Alarms []glance.Alarm `json:"alarms"` // the worst first
	Tiles  []tile         `json:"tiles"`
	// Outside are the channels that the show does not use and that are open at a mixer.
	Outside []tile               `json:"outside"`
	Unknown int                  `json:"unknown"` // channels outside the show that may be open
	Lines   []glance.CueLine     `json:"lines"`   // what the next cue changes
	Spares  []int                `json:"spares"`
	Problem string               `json:"problem"` // the last one, without the name of a single mixer
	Orphan  bool                 `json:"orphan"`  // no laptop is known to send
	Later   bool                 `json:"later"`   // no mixer hears what is sent now
	Places  map[string]fieldSpot `json:"places"`
	Pages   int                  `json:"pages"` // open now
	Ring    string               `json:"ring"`  // which mics are close to feedback; "" for none, or nothing to say
}

// fieldSpot is a place on the field in meters.
type fieldSpot struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// hub looks at the run while any page is open, and holds the newest picture for all pages. Nothing waits for a page.
type hub struct {
	run      PageRun
	channels []int // of the show, in the order of their tiles
	mixers   int   // channels that the mixer has
	playerAt func(player string, showS float64) (xM, yM float64, ok bool)
	began    time.Time
	wake     chan struct{} // look now
	done     chan struct{}

	mu       sync.Mutex
	pages    map[*viewer]bool
	latest   []byte    // the picture as JSON
	number   uint64    // of the picture
	lookedAt time.Time // when the run was last looked at
	ended    bool
}

// viewer is an open page. News has one slot, which says that there is a newer picture than its last one.
type viewer struct {
	of     *pageDevice
	news   chan struct{}
	number uint64 // of the picture that it got last
}

func newHub(s PageRun, o *ServerOptions) *hub {
	return &hub{
		run: s, playerAt: o.Where, channels: o.Channels, mixers: o.MixerChannels, began: time.Now(),
		wake: make(chan struct{}, 1), done: make(chan struct{}), pages: map[*viewer]bool{},
	}
}

// look runs until the context ends.
func (h *hub) look(ctx context.Context) {
	defer close(h.done)
	timer := time.NewTimer(0)
	defer timer.Stop()
	var last, key []byte
	var published time.Time
	for {
		select {
		case <-ctx.Done():
			return
		case <-h.wake:
		case <-timer.C:
		}
		timer.Reset(lookEvery)
		pages := h.count()
		if pages == 0 {
			timer.Stop() // until a page opens
			continue
		}
		v, ok := h.run.View()
		if !ok {
			h.finish()
			return
		}
		now, p := time.Now(), h.paint(v, pages)
		b, err := p.encode()
		if err != nil { // not a number: pages must show that they are old, and take no commands
			continue
		}
		if key, _ = p.still(); bytes.Equal(key, last) && now.Sub(published) < beatEvery {
			h.saw(now)
			continue
		}
		last, published = key, now
		h.publish(b, now)
	}
}

// hurry makes the hub look at the run now.
func (h *hub) hurry() {
	select {
	case h.wake <- struct{}{}:
	default:
	}
}

func (h *hub) count() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.pages)
}

func (h *hub) saw(now time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.lookedAt = now
}

func (h *hub) publish(b []byte, now time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.latest, h.lookedAt = b, now
	h.number++
	h.notifyAll()
}

// finish sends every page the end of the run.
func (h *hub) finish() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ended = true
	h.notifyAll()
}

// notifyAll puts news into every page's slot. The caller holds mu.
func (h *hub) notifyAll() {
	for p := range h.pages {
		select {
		case p.news <- struct{}{}:
		default:
		}
	}
}

// join makes a page of a device, or nil if there are too many.
func (h *hub) join(of *pageDevice) *viewer {
	h.mu.Lock()
	defer h.mu.Unlock()
	same := 0
	for p := range h.pages {
		if p.of == of {
			same++
		}
	}
	if len(h.pages) >= maxPages || same >= maxPagesPerDevice {
		return nil
	}
	p := &viewer{of: of, news: make(chan struct{}, 1)}
	h.pages[p] = true
	h.hurry()
	return p
}

func (h *hub) leave(p *viewer) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.pages, p)
}

// frame is the next message to a page: the picture if the page does not have it, the current time, and when the run was
// last looked at, in milliseconds of the hub's clock. With these the page knows how old its picture is.
func (h *hub) frame(p *viewer) (b []byte, ended bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.ended {
		return []byte("event: ended\ndata: {}\n\n"), true
	}
	if h.number == 0 {
		return []byte(": not looked yet\n\n"), false
	}
	what := []byte("null")
	if p.number != h.number {
		what, p.number = h.latest, h.number
	}
	nowMS, seenMS := h.nowMS(), h.lookedAt.Sub(h.began).Milliseconds()
	return fmt.Appendf(nil, "data: {\"now_ms\":%d,\"seen_ms\":%d,\"picture\":%s}\n\n", nowMS, seenMS, what), false
}

// nowMS is the time by the hub's clock, in milliseconds.
func (h *hub) nowMS() int64 { return time.Since(h.began).Milliseconds() }

func (h *hub) paint(v run.View, pages int) *picture {
	v = glance.Heard(v)
	tiles, outside := bench(h.channels, v.Bench)
	var mics []string
	for _, t := range tiles {
		mics = append(mics, t.Player)
	}
	p := &picture{
		View: v, Alarms: glance.Alarms(v), Tiles: tiles, Outside: outside,
		Spares: spares(h.channels, h.mixers, v.Bench),
		Lines:  glance.CueLines(v.Next, mics), Problem: glance.Problem(v),
		Places: map[string]fieldSpot{}, Pages: pages, Orphan: glance.Orphan(v),
		Later: glance.Later(v), Ring: glance.RingWords(v),
	}
	p.View.Rows = nil // the tiles say it
	for _, d := range v.Mixers {
		p.Unknown = max(p.Unknown, d.Unknown)
	}
	if h.playerAt == nil {
		return p
	}
	put := func(player string) {
		if x, y, ok := h.playerAt(player, v.ShowS); ok {
			p.Places[player] = fieldSpot{math.Round(x*100) / 100, math.Round(y*100) / 100}
		}
	}
	for _, r := range v.Rows {
		put(r.Player)
	}
	for _, n := range []*run.NextCue{v.NextAuto, v.Next} {
		if n != nil {
			for _, player := range n.Opens {
				put(player)
			}
			for _, h := range n.Handovers {
				put(h.To)
			}
		}
	}
	return p
}

// encode is the picture as JSON. The error is for a number that JSON does not have: an infinite one, or none.
func (p *picture) encode() ([]byte, error) { return json.Marshal(p) }

// still is the picture without what changes with time alone: how long ago things were.
func (p *picture) still() ([]byte, error) {
	q := *p
	q.View.ProblemAgoS, q.View.NoticeAgoS = 0, 0
	q.View.Mixers = append([]run.MixerView(nil), p.View.Mixers...)
	for i := range q.View.Mixers {
		q.View.Mixers[i].ReplyAgoS = 0
	}
	return q.encode()
}

// serveEvents streams pictures to one page (server-sent events, WHATWG HTML).
func (s *Server) serveEvents(w http.ResponseWriter, r *http.Request) {
	me := deviceOf(r)
	p := s.hub.join(me)
	if p == nil {
		refuse(w, http.StatusServiceUnavailable)
		return
	}
	defer s.hub.leave(p)
	out := http.NewResponseController(w)
	out.SetReadDeadline(time.Time{}) // the page sends nothing more
	w.Header().Set("Content-Type", "text/event-stream")
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	for {
		b, ended := s.hub.frame(p)
		out.SetWriteDeadline(time.Now().Add(requestLimit))
		if _, err := w.Write(b); err != nil {
			return
		}
		if err := out.Flush(); err != nil || ended {
			return
		}
		me.touch(time.Now())
		select {
		case <-r.Context().Done():
			return
		case <-me.gone:
			return
		case <-p.news:
		case <-beat.C:
		}
	}
}
