package remote

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"time"

	"backfield/osc/run"
)

// show is what does not change while the run lasts.
func (s *Server) serveShow(w http.ResponseWriter, r *http.Request) {
	writeJSON(w, http.StatusOK, map[string]any{"field": s.o.Field, "read_only": s.o.ReadOnly, "page": deviceOf(r).id})
}

func writeJSON(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(v) // whoever does not take the answer has gone
}

// order is a command as a page gives it. Next is what the page shows as the next cue, "" for none. AskedMS is when it
// was asked for, by the clock of the pictures' now_ms as the page reckons it.
type pageCommand struct {
	Verb    run.Verb `json:"verb"`
	Name    string   `json:"name"`
	Next    *string  `json:"next"`
	AskedMS *int64   `json:"asked_ms"`
}

// command reads an order. Whatever touches single channels, and quit, is the terminal's.
func (o pageCommand) command() (run.Command, error) {
	if o.AskedMS == nil {
		return run.Command{}, errors.New("a command must say when it was asked for")
	}
	switch o.Verb {
	case run.Go, run.Back:
		if o.Next == nil {
			return run.Command{}, fmt.Errorf("%s must say which cue its page shows as the next one", o.Verb)
		}
		return run.Command{Verb: o.Verb, Next: o.Next}, nil
	case run.Hush, run.Unhush, run.Start, run.Stop:
		return run.Command{Verb: o.Verb}, nil
	case run.Jump:
		if len(o.Name) > maxNameBytes {
			return run.Command{}, errors.New("no cue and no count is that long")
		}
		return run.Parse("jump " + o.Name)
	}
	return run.Command{}, fmt.Errorf(
		"a page can send go, back, jump, hush, unhush, start and stop; use the terminal for %q", o.Verb)
}

// harmless tells which commands do good even late.
func usefulLate(v run.Verb) bool { return v == run.Hush || v == run.Stop }

// refusal says why an order was not taken, with the status of the answer.
type refusal struct {
	status int
	text   string
}

// do carries out an order. 200 says what came of it, in "said"; all else says in "error" why it was not taken.
func (s *Server) serveCommand(w http.ResponseWriter, r *http.Request) {
	c, asked, no := s.readCommand(w, r)
	if no == nil {
		no = s.checkAge(c, asked)
	}
	said := ""
	if no == nil {
		said, no = s.carryOut(deviceOf(r), c)
	}
	if no != nil {
		writeJSON(w, no.status, map[string]string{"error": no.text})
		return
	}
	writeJSON(w, http.StatusOK, map[string]string{"said": cmp.Or(said, c.String()+": done")})
}

// readOrder reads an order, and when it was asked for, in milliseconds of the hub's clock.
func (s *Server) readCommand(w http.ResponseWriter, r *http.Request) (c run.Command, askedMS int64, no *refusal) {
	if s.o.ReadOnly {
		return c, 0, &refusal{http.StatusForbidden, "this page looks on only"}
	}
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		return c, 0, &refusal{http.StatusUnsupportedMediaType, "a command is JSON"}
	}
	var o pageCommand
	in := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxBodyBytes))
	in.DisallowUnknownFields()
	if err := in.Decode(&o); err != nil {
		return c, 0, &refusal{http.StatusBadRequest, "this is no command: " + err.Error()}
	}
	c, err := o.command()
	if err != nil {
		return c, 0, &refusal{http.StatusBadRequest, err.Error()}
	}
	return c, *o.AskedMS, nil
}

// dueOrder refuses a command that hung on a bad network, and whose moment is over.
func (s *Server) checkAge(c run.Command, askedMS int64) *refusal {
	late := s.hub.since(askedMS)
	if late <= tooLate || usefulLate(c.Verb) {
		return nil
	}
	return &refusal{http.StatusConflict, fmt.Sprintf("%s came %.1f s late: not taken", c, late.Seconds())}
}

// carryOut gives a device's command to the run, unless the device gives too many: one that waits would come late.
func (s *Server) carryOut(me *pageDevice, c run.Command) (said string, no *refusal) {
	now := time.Now()
	if !me.commands.admit(now) {
		text := fmt.Sprintf("%s: more than %d commands in a second; not taken", c, maxCommandsPerS)
		return "", &refusal{http.StatusTooManyRequests, text}
	}
	if !me.busy.TryLock() {
		text := fmt.Sprintf("%s: the command before is still being carried out; not taken", c)
		return "", &refusal{http.StatusConflict, text}
	}
	defer me.busy.Unlock()
	if c.Verb == run.Go && now.Sub(me.lastGo) < goGap {
		return "", &refusal{http.StatusConflict, "go again within a second: not taken"}
	}
	c.From = me.String()
	said, err := s.stage.DoWithin(c, commandWait)
	s.hub.hurry()
	if err != nil {
		return "", &refusal{http.StatusConflict, fmt.Sprintf("%s: %v", c, err)}
	}
	if c.Verb == run.Go {
		me.lastGo = now
	}
	return said, nil
}
