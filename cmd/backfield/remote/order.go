package remote

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"backfield/osc/run"
)

// serveShow serves what does not change during the run.
func (s *Server) serveShow(w http.ResponseWriter, r *http.Request) {
	writeJSON(w, http.StatusOK, map[string]any{"field": s.o.Field, "read_only": s.o.ReadOnly, "page": deviceOf(r).id})
}

func writeJSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(v) // a device that does not read the answer has gone
}

// pageCommand is a command as a page sends it. Next is the cue that the page shows as next, "" for none. AskedMS is
// when the button was pressed, in milliseconds of the hub's clock, as the page computes it from now_ms.
type pageCommand struct {
	Verb      run.Verb `json:"verb"`
	Name      string   `json:"name"`
	Next      *string  `json:"next"`
	PressedMS *int64   `json:"pressed_ms"`

	// Of a command for one channel: who the page shows on it, and for a swap the spare (0: swap back), for a nudge the dB.
	Player *string `json:"player"`
	Spare  *int    `json:"spare"`
	DB     float64 `json:"db"`
}

// One nudge from a page is a touch that may be a slip, so it is bounded. A smaller one than shows would be a change
// that nobody sees.
const (
	maxNudgeDB = 3
	minNudgeDB = 0.1
)

// command is the run's command. Commands for one channel name it by its number. Some are for the terminal only.
func (o pageCommand) command() (run.Command, error) {
	if o.PressedMS == nil {
		return run.Command{}, errors.New("pressed_ms is missing: when the button was pressed")
	}
	switch o.Verb {
	case run.Go, run.Back:
		if o.Next == nil {
			return run.Command{}, fmt.Errorf("%s: next is missing: the cue that the page shows as next", o.Verb)
		}
		return run.Command{Verb: o.Verb, Next: o.Next}, nil
	case run.Release, run.Hold, run.Swap, run.Nudge:
		return o.channelCommand()
	case run.Hush, run.Unhush, run.Start, run.Stop, run.TakeOver:
		return run.Command{Verb: o.Verb}, nil
	case run.Jump:
		if len(o.Name) > maxNameBytes {
			return run.Command{}, errors.New("no cue and no count is that long")
		}
		return run.Parse("jump " + o.Name)
	}
	return run.Command{}, fmt.Errorf(
		"a page can send go, back, jump, hush, unhush, start, stop, hold, release, swap, nudge and takeover; use the "+
			"terminal for %q", o.Verb)
}

// channelCommand is a command for one channel.
func (o pageCommand) channelCommand() (c run.Command, err error) {
	c = run.Command{Verb: o.Verb, Name: o.Name, DB: o.DB}
	n, bad := strconv.Atoi(o.Name)
	switch {
	case bad != nil || n <= 0 || strconv.Itoa(n) != o.Name:
		return c, fmt.Errorf("%s: name is the number of the channel, in digits", o.Verb)
	case o.Player == nil:
		return c, fmt.Errorf("%s: player is missing: who the page shows on the channel", o.Verb)
	case o.Verb == run.Swap && (o.Spare == nil || *o.Spare < 0):
		return c, errors.New("swap: spare is missing: the number of a channel, or 0 to swap back")
	case o.Verb == run.Nudge && !(math.Abs(o.DB) >= minNudgeDB && math.Abs(o.DB) <= maxNudgeDB):
		return c, fmt.Errorf("nudge: db is how far, from -%d to +%[1]d, and at least %g up or down", maxNudgeDB,
			minNudgeDB)
	case o.Verb == run.Swap:
		c.Channel = *o.Spare
	}
	return c, nil
}

// usefulLate reports whether a command helps even when it comes late.
func usefulLate(v run.Verb) bool { return v == run.Hush || v == run.Stop }

// refusal says why a command was refused, with the status of the answer.
type refusal struct {
	status int
	text   string
	short  string // for a field with room for one line; empty if text is short
	ahead  bool   // the page's clock is ahead of the hub's
}

// answer is the refusal as a page reads it. A page whose clock is ahead gets the hub's, so that its next command is in time.
func (n *refusal) answer(h *hub) map[string]any {
	a := map[string]any{"error": n.text, "short": n.short}
	if n.ahead {
		a["now_ms"] = h.nowMS()
	}
	return a
}

// serveCommand carries out a command. Status 200 has the run's answer in "said"; every other status has in "error" why
// the command was refused, and in "short" the same in a few words if they are many.
func (s *Server) serveCommand(w http.ResponseWriter, r *http.Request) {
	c, o, no := s.readCommand(w, r)
	if no == nil {
		no = s.checkAge(c, *o.PressedMS)
	}
	if no == nil && o.Player != nil {
		no = s.checkPlayer(c, *o.Player)
	}
	said := ""
	if no == nil {
		said, no = s.carryOut(deviceOf(r), c)
	}
	if no != nil {
		writeJSON(w, no.status, no.answer(s.hub))
		return
	}
	writeJSON(w, http.StatusOK, map[string]string{"said": cmp.Or(said, c.String()+": done")})
}

// readCommand reads a command, as the page sent it too.
func (s *Server) readCommand(w http.ResponseWriter, r *http.Request) (c run.Command, o pageCommand, no *refusal) {
	if s.o.ReadOnly {
		return c, o, &refusal{status: http.StatusForbidden, text: "this page is read-only"}
	}
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		return c, o, &refusal{status: http.StatusUnsupportedMediaType, text: "send commands as JSON"}
	}
	in := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBodyBytes))
	in.DisallowUnknownFields()
	if err := in.Decode(&o); err != nil {
		return c, o, &refusal{status: http.StatusBadRequest, text: "cannot read this command: " + err.Error()}
	}
	c, err := o.command()
	if err != nil {
		return c, o, &refusal{status: http.StatusBadRequest, text: err.Error()}
	}
	return c, o, nil
}

// checkAge refuses a command that a bad network has held up until its moment was over. It refuses one from the future too:
// nobody can tell how long that was under way.
func (s *Server) checkAge(c run.Command, askedMS int64) *refusal {
	if usefulLate(c.Verb) {
		return nil
	}
	lateMS := float64(s.hub.nowMS()) - float64(askedMS) // a page may send any number: no int64 has the difference
	switch late := lateMS / 1000; {
	case late > tooLate.Seconds():
		return &refusal{status: http.StatusConflict, text: fmt.Sprintf("%s ignored (%.1f s late)", c, late)}
	case -late > tooEarly.Seconds():
		return &refusal{status: http.StatusConflict, ahead: true, text: fmt.Sprintf(
			"%s ignored (this page's clock was %.1f s ahead; it is right now): look, then press again", c, -late)}
	}
	return nil
}

// checkPlayer refuses a command for a channel that has another player by now than the page shows.
func (s *Server) checkPlayer(c run.Command, shown string) *refusal {
	n, _ := strconv.Atoi(c.Name) // it was read
	now, ok := s.hub.playerOn(n)
	if !ok || now == shown {
		return nil
	}
	return &refusal{status: http.StatusConflict, text: fmt.Sprintf(
		"channel %d is %s's now, no longer %s's: look again, then press again", n, cmp.Or(now, "nobody"),
		cmp.Or(shown, "nobody"))}
}

// carryOut gives a device's command to the run. It refuses too many at once, since one that waits would come too late.
func (s *Server) carryOut(me *pageDevice, c run.Command) (said string, no *refusal) {
	now := time.Now()
	if !me.commands.admit(now) {
		text := fmt.Sprintf("%s ignored (more than %d commands in a second)", c, maxCommandsPerS)
		return "", &refusal{status: http.StatusTooManyRequests, text: text}
	}
	if !me.busy.TryLock() {
		text := fmt.Sprintf("%s ignored (the last command is still running)", c)
		return "", &refusal{status: http.StatusConflict, text: text}
	}
	defer me.busy.Unlock()
	if c.Verb == run.Go && now.Sub(me.lastGo) < goGap {
		return "", &refusal{status: http.StatusConflict, text: "GO ignored (held down, or pressed twice)"}
	}
	c.From = me.String()
	said, err := s.run.DoWithin(c, commandWait)
	s.hub.hurry()
	if err != nil {
		return "", &refusal{status: http.StatusConflict, text: fmt.Sprintf("%s: %v", c, err), short: shortly(c, err)}
	}
	if c.Verb == run.Go {
		me.lastGo = now
	}
	return said, nil
}

// shortly says in a few words that a jump goes nowhere. The run also says how to type one, which takes four lines on a page.
func shortly(c run.Command, err error) string {
	if c.Verb != run.Jump || !strings.HasPrefix(err.Error(), "no cue ") {
		return ""
	}
	name := []rune(c.Name)
	if len(name) > maxShortName {
		name = append(name[:maxShortName-1], '…')
	}
	return "no cue, set or count " + string(name)
}

// maxShortName is how many letters of what was typed a short refusal repeats.
const maxShortName = 12
