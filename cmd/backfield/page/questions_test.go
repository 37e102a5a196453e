package page_test

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cue"
	"backfield/cue/step"
)

// onScreen is what a reader finds on one screen of the page at a cue, without a click, and what of it is cut or out of sight.
type onScreen struct {
	At, Loudest, Closes, Next, Opens, ClosesNext, Handover, Seats, Wrong, State, Who, Arrow string
	Facts, Bad                                                                              []string
}

// readScreens goes through the cues, and reads each screen.
const readScreens = `(() => {
	const press = key => document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true })), box = e => e.getBoundingClientRect()
	const field = box(document.querySelector('#field')), screens = []
	press('Home')
	for (let n = document.querySelectorAll('#timeline .cue').length; n > 0; n--) {
		const bad = [], inside = (r, s, what) => { if (!r.width || r.left < s.left - 1 || r.top < s.top - 1 || r.right > s.right + 1 || r.bottom > s.bottom + 1) bad.push(what + ' is out of sight') }
		const screen = { left: 0, top: 0, right: innerWidth, bottom: innerHeight }
		const whole = (e, what) => { inside(box(e), screen, what); if (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 2) bad.push(what + ' is cut: ' + e.textContent); return e.textContent }
		const rows = Object.fromEntries([...document.querySelectorAll('.soon dt')].map(dt => [dt.textContent, whole(dt.nextSibling, dt.textContent)]))
		const facts = [...document.querySelectorAll('.facts dt')].map(e => whole(e, 'a number'))
		const state = whole(document.querySelector('#state'), 'the state'), who = whole(document.querySelector('#who'), 'who'), at = document.querySelector('#here').textContent
		whole(document.querySelector('.head h2'), 'the name')
		const names = [...document.querySelectorAll('.names text')].map(e => (inside(box(e), field, 'the label of ' + e.textContent), e.textContent))
		for (const p of document.querySelectorAll('.player.open:not(.fixed), .player.chosen')) if (!names.includes(p.dataset.name)) bad.push(p.dataset.name + ' has no label')
		const ring = document.querySelector('.player.chosen .halo'), arrow = document.querySelector('.tip.chosen')
		if (!ring) bad.push('nobody has the ring')
		else { inside(box(ring), field, 'the ring'); if (box(ring).width < 12) bad.push('the ring is small') }
		if (arrow.getAttribute('d')) inside(box(arrow), field, 'the arrow')
		screens.push({ at, loudest: rows.loudest, closes: rows['closes now'], next: rows['next cue'], opens: rows['opens next'], closesNext: rows['closes next'], handover: rows.handover || '', seats: rows['worst seats'], wrong: rows.wrong, state, who, arrow: arrow.getAttribute('d'), facts, bad })
		press(']')
	}
	return JSON.stringify(screens)
})()`

// named reads the names of a list such as "Tpt 1, 3, all 4 Mello, field left".
func named(text string, c *cue.Snapshot) []string {
	var list []string
	kind := ""
	for _, word := range strings.Split(text, ", ") {
		at := strings.LastIndex(word, " ")
		_, numbered := strconv.Atoi(word[at+1:])
		switch {
		case word == "nobody":
		case strings.HasPrefix(word, "all "):
			for _, ch := range c.Channels {
				if strings.HasPrefix(ch.Player, word[at+1:]+" ") {
					list = append(list, ch.Player)
				}
			}
		case at < 0 && numbered == nil:
			list = append(list, kind+" "+word)
		default:
			kind = word[:max(at, 0)]
			list = append(list, word)
		}
	}
	slices.Sort(list)
	return list
}

// TestTenQuestions looks for ten answers on one screen of a small laptop, in every cue of the demo: each is there, in sight
// and right. One of the players has no mic at first, one loses it, and one never has any.
func TestTenQuestions(t *testing.T) {
	tab := browser.Open(t, 1280, 720)
	cues := demo().Show.Cues
	tab.Go(harbor())
	tab.Await("document.querySelector('.in-stands')", time.Minute)
	// All rows of a cue with a dozen worn mics are in sight.
	tab.Key("]]]]]") // cue 6
	if n := browser.Eval[int](tab, "[...document.querySelectorAll('.mics tbody tr')].filter(r => "+
		"r.getBoundingClientRect().height && r.getBoundingClientRect().bottom < innerHeight).length"); n < 12 {
		t.Errorf("%d rows of the cue's table are in sight", n)
	}
	for who, mic := range map[string][2]string{ // in cue 2, and in the cue before the last
		"Bari 16": {"no mic until 2:9", "open, full −2 dB"}, "Tpt 20": {"mic closed", "no mic since 3:21"},
		"Guard 3": {"no mic", "no mic"},
	} {
		browser.Eval[bool](tab, fmt.Sprintf("(f => { f.value = %q; return f.dispatchEvent(new Event('change')) })(document.querySelector('#find'))", who))
		tab.Key("1")
		tab.Await(fmt.Sprintf("/^%s .* by /.test(document.querySelector('#who').textContent)", who), time.Minute)
		var screens []onScreen
		if err := json.Unmarshal([]byte(browser.Eval[string](tab, readScreens)), &screens); err != nil || len(screens) != len(cues) {
			t.Fatalf("%d screens of %d cues, %v", len(screens), len(cues), err)
		}
		for i, s := range screens {
			for _, bad := range s.Bad {
				t.Errorf("%s, cue %s: %s", who, cues[i].ID, bad)
			}
			for _, bad := range answers(cues, i, s) {
				t.Errorf("%s, cue %s: %s", who, cues[i].ID, bad)
			}
			if walks := regexp.MustCompile(` walks \d`).MatchString(s.Who); walks != (s.Arrow != "") || !walks && !strings.Contains(s.Who, " stays: ") &&
				!strings.Contains(s.Who, " comes back ") {
				t.Errorf("%s, cue %s: %q has the arrow %q", who, cues[i].ID, s.Who, s.Arrow)
			}
		}
		for n, i := range []int{1, len(cues) - 2} {
			if !strings.HasPrefix(screens[i].Who, who+" · "+mic[n]+" · by cue "+cues[i+1].ID+" ") {
				t.Errorf("cue %s: where does %s walk? %q", cues[i].ID, who, screens[i].Who)
			}
		}
		if s := screens[9]; !strings.HasPrefix(s.Next, "in 8 counts, 4.7 s: 11 ") || s.Handover != "in 132 counts (2:9): P17, Bari 6 to Bari 16" ||
			!regexp.MustCompile(`^side \d at the \d+: \d+ %; side .*: \d+ % in time$`).MatchString(s.Seats) {
			t.Errorf("cue 10: next %q, handover %q, worst seats %q", s.Next, s.Handover, s.Seats)
		}
	}
}

// answers lists which answers of a screen do not follow from the snapshots.
func answers(cues []cue.Snapshot, i int, s onScreen) (bad []string) {
	now := &cues[i]
	var before *cue.Snapshot
	if i > 0 {
		before = &cues[i-1]
	}
	does := step.Between(demo().Show.Params, before, now).Summary()
	var stops, loudest []string
	for _, n := range does.Stops {
		for _, ch := range before.Channels {
			if ch.Channel == n {
				stops = append(stops, ch.Player)
			}
		}
	}
	open, worst, least := 0, "", 2.0
	byKind := map[string][]cue.Channel{}
	for _, ch := range now.Channels {
		if !ch.Open {
			continue
		}
		open++
		byKind[ch.Kind] = append(byKind[ch.Kind], ch)
		if ch.Kind == cue.Worn && ch.Fit != nil && ch.Fit.InTime < least {
			worst, least = fmt.Sprintf("%s %.0f %%", ch.Player, 100*ch.Fit.InTime), ch.Fit.InTime
		}
	}
	heard := byKind[cue.Worn]
	if len(heard) == 0 {
		heard = byKind[cue.Fixed]
	}
	most := math.Inf(-1)
	for _, ch := range heard {
		most = max(most, float64(ch.LevelDB))
	}
	for _, ch := range heard {
		if float64(ch.LevelDB) == most {
			loudest = append(loudest, ch.Player)
		}
	}
	opens, closes, next := []string{}, []string(nil), " the end of the show"
	if i+1 < len(cues) {
		then := step.Between(demo().Show.Params, now, &cues[i+1]).Summary()
		opens = then.Starts
		for _, n := range then.Stops {
			for _, ch := range now.Channels {
				if ch.Channel == n {
					closes = append(closes, ch.Player)
				}
			}
		}
		next = " " + cues[i+1].ID + " " + cues[i+1].Name
	}
	who, fixed := strings.CutPrefix(strings.TrimSuffix(s.Loudest, ": every mic is closed"), "no worn mic is open; of the fixed: ")
	if parts := strings.Split(who, ", "); open > 0 { // after the names are the role of a player, and the level
		who = strings.Join(parts[:len(parts)-map[bool]int{true: 1, false: 2}[fixed]], ", ")
	}
	for _, q := range []struct {
		question  string
		got, want []string
	}{
		{"who opens next", named(s.Opens, now), opens}, {"who closes next", named(s.ClosesNext, now), closes},
		{"who stops", named(s.Closes, now), stops}, {"who is loudest", named(who, now), loudest},
	} {
		slices.Sort(q.want)
		if !slices.Equal(q.got, q.want) {
			bad = append(bad, fmt.Sprintf("%s? %q, not %q", q.question, q.got, q.want))
		}
	}
	if len(s.Facts) == 0 || s.Facts[0] != fmt.Sprintf("%d open", open) || worst != "" && (len(s.Facts) < 3 || s.Facts[2] != worst) {
		bad = append(bad, fmt.Sprintf("%d open, worst %s: the head says %q", open, worst, s.Facts))
	}
	if !strings.HasSuffix(s.Next, next) || !strings.HasPrefix(s.Next, "in ") {
		bad = append(bad, fmt.Sprintf("the next cue is%s, not %q", next, s.Next))
	}
	if (worst != "") != strings.HasSuffix(s.Seats, " % in time") {
		bad = append(bad, fmt.Sprintf("which seats flam? %q", s.Seats))
	}
	if s.Wrong == "" || !strings.HasPrefix(s.State, "no problems") || s.Handover == "" {
		bad = append(bad, fmt.Sprintf("what is wrong? %q, %q; the next pack? %q", s.Wrong, s.State, s.Handover))
	}
	return bad
}
