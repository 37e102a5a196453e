package compile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/table"
)

// Rules lists the codes of the warnings about one cue, which a cue or the whole score may accept by name.
var Rules = []string{
	"changes-nothing", "close-nothing", "cues-close", "delay-max", "delay-negative", "fade-long", "few-served", "handover-fast", "handover-open", "keep-nothing",
	"level-range", "loud-near-mic", "many-open", "masked", "near-stack", "nudge-closed", "opens-moving", "param-closed", "param-range", "raw-scene", "uneven-pickup", "walks-open",
}

// warn reports a warning about a cue, or with nil about the show, unless the cue or the score accepts its kind.
func (r *Result) warn(m *Moment, code string, at source.Span, what, do string, p *source.Problems) {
	is := func(t table.Text) bool { return t.V == code }
	accepted := slices.ContainsFunc(r.Score.Allow, is) || m != nil && slices.ContainsFunc(m.Cue.Allow, is)
	if m != nil {
		r.cautions = append(r.cautions, Caution{m.Cue.ID.V, code, what, accepted})
	}
	if !accepted {
		p.Warn(code, at, what, do)
	}
}

// Caution is what a rule found about a cue. What the designer has accepted is still there to be heard on the night.
type Caution struct {
	Cue, Code, Text string
	Accepted        bool
}

// Cautions lists what the rules found about cues, accepted or not, in the order of the rules.
func (r *Result) Cautions() []Caution { return slices.Clone(r.cautions) }

// checkAllow finds accepted codes that there are not.
func (r *Result) checkAllow(p *source.Problems) {
	check := func(list []table.Text) {
		for _, code := range list {
			if code.Set && !slices.Contains(Rules, code.V) {
				p.Error("unknown-code", code.Span, fmt.Sprintf("no warning about a cue has the code %q", code.V), source.DidYouMean(code.V, Rules, "it is "+source.OneOf(Rules)+"; errors cannot be accepted"))
			}
		}
	}
	check(r.Score.Allow)
	for i := range r.Score.Cues {
		check(r.Score.Cues[i].Allow)
	}
}

// checkRules holds a compiled show against what the trade knows. Every rule warns; none stops a compile.
func (r *Result) checkRules(e *engine, show *cue.Show, p *source.Problems) {
	for i := range r.Cues {
		r.ruleTime(i, p)
		r.ruleOpen(i, p)
		r.ruleNearStack(i, p)
		r.ruleFieldMics(i, p)
	}
	for i, works := range r.works {
		if r.pieces[i].n == 0 {
			r.ruleMasked(e, i, works, p)
		}
	}
	r.ruleWalks(p)
	r.ruleDelays(p)
	r.ruleFit(show, p)
	r.ruleFixedNearStack(p)
	r.ruleSnapshots(show, p)
	r.ruleHandover(p)
	r.ruleHandoverOpen(p)
}

// ruleHandoverOpen: a pack that changes hands while its channel is open, with no cue there.
func (r *Result) ruleHandoverOpen(p *source.Problems) {
	for i, s := range r.spans {
		m := &r.Cues[i]
		for _, t := range s.tracks {
			if len(t.at) == len(s.samples) {
				continue
			}
			at := s.samples[len(t.at)]
			if next := r.lines[t.line].holder(at); len(t.at) < len(s.samples)-1 || next == nil {
				o := m.open[t.line]
				r.warn(m, "handover-open", o.at, fmt.Sprintf("cue %q: the pack of %s (channel %d) changes hands at %d:%.4g while it is open", m.Cue.ID.V, o.name, r.lines[t.line].channel, at.Movement, at.Count()),
					"add a cue before that closes it; until the next cue it stays open with his numbers", p)
			}
		}
	}
}

// ruleTime: two cues closer than an operator can press, a fade longer than its span.
func (r *Result) ruleTime(i int, p *source.Problems) {
	m := &r.Cues[i]
	if i+1 == len(r.Cues) {
		return
	}
	next := &r.Cues[i+1]
	gap := r.Clock.Seconds(next.At) - r.Clock.Seconds(m.At)
	if gap < r.Score.Rules.PressS-1e-9 && !next.Cue.Auto {
		r.warn(next, "cues-close", next.Cue.At.Span, fmt.Sprintf("cue %q comes %.2f s after cue %q", next.Cue.ID.V, gap, m.Cue.ID.V), "nobody presses that surely by hand; move it, or make them one", p)
	}
	if fade := r.Clock.Span(m.At, m.Cue.FadeCounts); fade > gap+1e-9 {
		r.warn(m, "fade-long", m.Cue.ID.Span, fmt.Sprintf("cue %q fades for %.2f s and the next cue comes after %.2f s", m.Cue.ID.V, fade, gap), "the fade is cut short there; shorten it", p)
	}
}

// group is the open mics of a cue that a rule means, and the worst of them.
type group struct {
	names []string
	worst *Working
}

// byCue gathers, for each cue with its follow-ons, the workings whose size is over 0; the worst is the largest.
func (r *Result) byCue(size func(w *Working) float64) []group {
	groups := make([]group, len(r.Cues))
	for n, pc := range r.pieces {
		g := &groups[pc.cue]
		for _, w := range r.works[n] {
			if size(w) <= 0 {
				continue
			}
			if !slices.Contains(g.names, w.Name) {
				g.names = append(g.names, w.Name)
			}
			if g.worst == nil || size(w) > size(g.worst) {
				g.worst = w
			}
		}
	}
	return groups
}

// ruleWalks: open mics that walk further within one snapshot than the follow-ons' tolerance, a warning a cue.
func (r *Result) ruleWalks(p *source.Problems) {
	walks := r.byCue(func(w *Working) float64 {
		if !w.tooFar {
			return 0
		}
		return w.weigh()
	})
	for i, x := range walks {
		if x.worst == nil {
			continue
		}
		m := &r.Cues[i]
		do := "they walk faster than a snapshot a count can follow: accept it, or close them while they run"
		if !r.Score.Follow.On || !m.Cue.Follow {
			do = "follow-ons are off here: turn them on, or accept it"
		}
		r.warn(m, "walks-open", m.Cue.ID.Span, fmt.Sprintf("cue %q: %s; worst: %s %s", m.Cue.ID.V, few(x.names), x.worst.Name, x.worst.drifts), do, p)
	}
}

// ruleDelays: delays that would have to be below 0, or over what the desk makes; a warning a cue for each.
func (r *Result) ruleDelays(p *source.Problems) {
	below := r.byCue(func(w *Working) float64 { return w.BelowMS })
	over := r.byCue(func(w *Working) float64 {
		if !w.overDelay {
			return 0
		}
		return w.RawMS - r.Desk.Delay.Max
	})
	for i := range r.Cues {
		m := &r.Cues[i]
		if g := below[i]; g.worst != nil {
			r.warn(m, "delay-negative", m.open[g.worst.line].at, fmt.Sprintf("cue %q: the delay of %s would have to be below 0; worst: %s, %.1f ms", m.Cue.ID.V, few(g.names), g.worst.Name, -g.worst.BelowMS),
				"a player that near to the audience is heard before the loudspeakers can speak: 0 is sent; set the show further back, or turn the mic down", p)
		}
		if g := over[i]; g.worst != nil {
			r.warn(m, "delay-max", m.open[g.worst.line].at, fmt.Sprintf("cue %q: the desk's longest delay of %g ms is too short for %s; worst: %s, %.1f ms", m.Cue.ID.V, r.Desk.Delay.Max, few(g.names), g.worst.Name, g.worst.RawMS),
				fmt.Sprintf("the longest is sent, and the loudspeakers come up to %.1f ms too early: bring the player nearer, or mend max in the desk file", g.worst.RawMS-r.Desk.Delay.Max), p)
		}
	}
}

// ruleFit: a show that hardly any seat hears as it should.
func (r *Result) ruleFit(show *cue.Show, p *source.Problems) {
	share, ok := show.MeanInside()
	if !ok || share >= r.Score.Rules.Fit {
		return
	}
	at := r.Score.File.Whole()
	if r.Score.Policy.Set {
		at = r.Score.Policy.Span
	}
	r.warn(nil, "few-served", at, fmt.Sprintf("%.0f %% of the seats are inside the window, on average over the open worn mics", 100*share),
		"see whether stand, stacks and latency are right; then try another policy, backfield tune, or zone sends", p)
}

// ruleOpen: how many mics are open, and what it costs.
func (r *Result) ruleOpen(i int, p *source.Problems) {
	m := &r.Cues[i]
	if n := len(m.open); n > r.Score.Rules.MostOpen {
		r.warn(m, "many-open", m.Cue.ID.Span, fmt.Sprintf("cue %q has %d mics open, which costs %.1f dB of gain before feedback", m.Cue.ID.V, n, cue.OpenCostDB(n)), fmt.Sprintf("open fewer, bring their levels down, or accept it; the limit is %d", r.Score.Rules.MostOpen), p)
	}
}

// ruleNearStack: an open mic that comes near a loudspeaker can feed back, and its player's ears are there too.
func (r *Result) ruleNearStack(i int, p *source.Problems) {
	m, s := &r.Cues[i], &r.spans[i]
	for _, t := range s.tracks {
		if r.lines[t.line].fixed != nil {
			continue // said once for the whole show
		}
		near, at, stack := math.Inf(1), 0, ""
		for n, place := range t.at {
			if n > 0 && place == t.at[n-1] {
				continue
			}
			for _, k := range r.Rig.Stacks {
				if d := place.Distance(k.At); d < near {
					near, at, stack = d, n, k.Name
				}
			}
		}
		if o := m.open[t.line]; near < r.Score.Rules.NearStackM {
			when := s.samples[at]
			r.warn(m, "near-stack", o.at, fmt.Sprintf("cue %q, %s: the open mic is %.1f m from %s at %d:%.4g", m.Cue.ID.V, o.name, near, stack, when.Movement, when.Count()),
				"it may feed back, and ears are near a loudspeaker: close it by then, or keep him away", p)
		}
	}
}

// ruleFixedNearStack: the same for fixed mics, once for the show.
func (r *Result) ruleFixedNearStack(p *source.Problems) {
	used := map[int]bool{}
	for i := range r.Cues {
		for l := range r.Cues[i].open {
			used[l] = true
		}
	}
	for _, l := range sorted(used) {
		mic := r.lines[l].fixed
		if mic == nil {
			continue
		}
		for _, k := range r.Rig.Stacks {
			if d := mic.At.Distance(k.At); d < r.Score.Rules.NearStackM {
				r.warn(nil, "near-stack", mic.Span, fmt.Sprintf("fixed mic %q is %.1f m from %s", mic.Name, d, k.Name), "it may feed back: move one of the two, or keep its level down", p)
			}
		}
	}
}

// ruleFieldMics: what an open field mic hears besides what it is for. Levels by inverse distance, everyone
// taken to play equally loud.
func (r *Result) ruleFieldMics(i int, p *source.Problems) {
	m, s := &r.Cues[i], &r.spans[i]
	const reachM = 15
	for _, t := range s.tracks {
		l := &r.lines[t.line]
		if l.fixed == nil || l.fixed.Kind != "field" {
			continue
		}
		o := m.open[t.line]
		loud, worst := map[string]bool{}, 0.0
		var loudest []string
		hot := ""
		for n := 0; n < len(s.samples); n += 4 { // every count
			at := s.samples[n]
			most, near, all, who := 0.0, 0.0, 0.0, "" // energies: the loudest, those within reach, and everyone
			for j := range r.Drill.Players {
				d := &r.Drill.Players[j]
				place, ok := d.At(r.Drill, at.Movement, at.Elapsed)
				if !ok {
					continue
				}
				place.Z = l.fixed.At.Z
				dist := max(place.Distance(l.fixed.At), 0.3)
				player, _ := r.Roster.Player(d.Name)
				if slices.Contains(r.Score.Rules.Loud, player.Section) {
					if dist < r.Score.Rules.PickupM && !loud[d.Name] {
						loud[d.Name] = true
						loudest = append(loudest, d.Name)
					}
					continue
				}
				v := 1 / (dist * dist)
				if all += v; dist > reachM {
					continue
				}
				if near += v; v > most {
					most, who = v, d.Name
				}
			}
			others, which := near-most, fmt.Sprintf("all others within %d m", reachM)
			if near == most {
				others, which = all-most, "all others" // he is alone there
			}
			if over := 10 * math.Log10(most/others); others > 0 && over > max(worst, r.Score.Rules.UnevenDB) {
				worst = over
				hot = fmt.Sprintf("%s is %.1f dB louder at it than %s together, at %d:%.4g", who, over, which, at.Movement, at.Count())
			}
		}
		if len(loudest) > 0 {
			r.warn(m, "loud-near-mic", o.at, fmt.Sprintf("cue %q, %s: %s within %.4g m of the open mic", m.Cue.ID.V, o.name, few(loudest), r.Score.Rules.PickupM), "close the mic in this cue, or move it or them", p)
		}
		if hot != "" {
			r.warn(m, "uneven-pickup", o.at, fmt.Sprintf("cue %q, %s: %s", m.Cue.ID.V, o.name, hot), "a hot spot as he passes: close the mic, turn it down, or move it", p)
		}
	}
}

// few names a handful of players and counts the rest.
func few(names []string) string {
	if len(names) > 4 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:4], ", "), len(names)-4)
	}
	return strings.Join(names, ", ")
}

// ruleMasked: featured players, those in the loudest role, whom the softer roles together drown at most seats, by levels and distances
// from the stacks, every mic taken to bring the same level.
func (r *Result) ruleMasked(e *engine, piece int, works []*Working, p *source.Problems) {
	if e.listeners.Len() == 0 || len(works) < 2 {
		return
	}
	m := &r.Cues[r.pieces[piece].cue]
	front := math.Inf(-1)
	for _, w := range works {
		if w.Kind == cue.Worn {
			front = max(front, w.RoleDB)
		}
	}
	var behind []stand.Fed
	for _, w := range works {
		if w.RoleDB < front {
			behind = append(behind, stand.Fed{Gains: w.Gains, LevelDB: w.LevelDB})
		}
	}
	if len(behind) == 0 {
		return
	}
	var featured []stand.Fed
	var names []string
	var at source.Span
	for _, w := range works {
		if w.RoleDB == front && w.Kind == cue.Worn {
			featured = append(featured, stand.Fed{Gains: w.Gains, LevelDB: w.LevelDB})
			if names = append(names, w.Name); at.File == nil {
				at = m.open[w.line].at
			}
		}
	}
	if len(featured) == 0 {
		return
	}
	share := e.listeners.Below(e.listeners.Energy(featured), e.listeners.Energy(behind), r.Score.Rules.MaskedDB)
	if share > 0.5 {
		r.warn(m, "masked", at, fmt.Sprintf("cue %q: the %d softer mics together are more than %.4g dB louder than %s at %.0f %% of the seats", m.Cue.ID.V, len(behind), r.Score.Rules.MaskedDB, few(names), 100*share),
			"bring the softer roles down, or open fewer of them", p)
	}
}

// ruleSnapshots: a cue that changes nothing, and a channel that opens just after its delay, pan or sends have moved.
func (r *Result) ruleSnapshots(show *cue.Show, p *source.Problems) {
	moved := map[int]float64{} // by channel: when its pan or delay last moved, in seconds
	for i := range show.Cues {
		if i == 0 {
			continue
		}
		s, before := &show.Cues[i], &show.Cues[i-1]
		m := &r.Cues[r.pieces[i].cue]
		same := len(s.Also) == 0
		for j := range s.Channels {
			now, was := &s.Channels[j], &before.Channels[j]
			same = same && equal(now, was)
			if now.Open && !was.Open {
				if at, ok := moved[now.Channel]; ok && s.TimeS-at < r.Score.Rules.SettleS {
					r.warn(m, "opens-moving", m.Cue.ID.Span, fmt.Sprintf("cue %q, %s: channel %d opens %.2f s after its delay or pan has moved", s.ID, now.Player, now.Channel, s.TimeS-at), "many desks glide a delay, which is heard as a pitch; open it later or close it sooner before", p)
				}
			}
			if now.Pan != was.Pan || now.DelayMS != was.DelayMS || !slices.Equal(now.Sends, was.Sends) {
				moved[now.Channel] = s.TimeS
			}
		}
		if same && r.pieces[i].n == 0 {
			r.warn(m, "changes-nothing", m.Cue.ID.Span, fmt.Sprintf("cue %q changes nothing on the desk", s.ID), "take it out, or see whether it says what was meant", p)
		}
	}
}

// equal reports whether two states of a channel are the same on the desk.
func equal(a, b *cue.Channel) bool {
	return a.Open == b.Open && a.LevelDB == b.LevelDB && a.Pan == b.Pan && a.DelayMS == b.DelayMS && slices.Equal(a.Sends, b.Sends) && slices.Equal(a.Params, b.Params)
}

// ruleHandover: a pack that changes hands between the last cue that opens one wearer and the first that opens
// the next.
func (r *Result) ruleHandover(p *source.Problems) {
	type last struct {
		name   string
		closed float64 // when the cue after the last that opened him begins
	}
	open := map[int]last{}
	for i := range r.Cues {
		m := &r.Cues[i]
		for _, l := range sorted(m.open) {
			if r.lines[l].fixed != nil {
				continue
			}
			o := m.open[l]
			if before, ok := open[l]; ok && before.name != o.name {
				if gap := r.Clock.Seconds(m.At) - before.closed; gap < r.Score.Rules.HandoverS {
					r.warn(m, "handover-fast", o.at, fmt.Sprintf("cue %q: %s needs the pack of %s (channel %d) %.0f s after that closed", m.Cue.ID.V, o.name, before.name, r.lines[l].channel, gap),
						fmt.Sprintf("a handover wants %.4g s: give one of them another pack", r.Score.Rules.HandoverS), p)
				}
			}
			end := r.Clock.Seconds(r.Clock.End())
			if i+1 < len(r.Cues) {
				end = r.Clock.Seconds(r.Cues[i+1].At)
			}
			open[l] = last{o.name, end}
		}
	}
}
