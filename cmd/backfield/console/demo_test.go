package console

import (
	"fmt"
	"slices"

	"backfield/cue"
	"backfield/cue/step"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// row is a channel that is open in the show and at the mixer, both at the same level.
func row(channel int, player, role string, levelDB float64, sign feed.ChannelSign) run.ChannelRow {
	return run.ChannelRow{Channel: channel, Player: player, Role: role, MixerChannel: feed.MixerChannel{
		Sign: sign, LevelKnown: true, LevelDB: cue.Level(levelDB), MuteKnown: true, ShowOpen: true, ShowDB: cue.Level(levelDB),
	}}
}

// demoView is cue 6 of the demo, with 21 open channels, and an automatic cue after it.
func demoView() run.View {
	v := run.View{
		Title: "Harbor Lights", Step: "6", Name: "trumpets on the arcs, walking out to the wings",
		Now: run.ScoreMoment{Movement: 1, Count: 60, Set: "4", BPM: 132}, ShowS: 26.8, Running: true, Rate: 1, BPM: 132,
		WaitCounts: 16, Ticks: []run.Tick{{ID: "6A", Counts: 6}},
		NextAuto: &run.NextCue{ID: "6A", At: "1:66", Counts: 6, InS: 2.7, Auto: true, Summary: step.Summary{
			Levels: []string{"Tpt 3 -1.5 to 0 dB"}, Glides: 12,
		}},
		Next: &run.NextCue{ID: "7", At: "set 5", Name: "low brass, wing to wing", Counts: 9, InS: 4.1, Summary: step.Summary{
			Opens: []string{"Bari 3", "Bari 6", "Bari 9", "Bari 12", "Bari 13", "Tuba 4", "Tuba 7", "Tuba 12"},
			Stops: []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12},
		}},
		Mixers: []run.MixerView{{To: "udp://127.0.0.1:9000", Up: true, Confirms: true, ReplyAgoS: 0.2}},
	}
	for i, n := range []int{1, 3, 6, 9, 11, 15, 17, 20} {
		v.Rows = append(v.Rows, row(i+1, fmt.Sprintf("Tpt %d", n), "feature", 0, feed.ChannelOK))
	}
	v.Rows[1] = row(2, "Tpt 3", "feature", -1.5, feed.ChannelOK)
	for i, n := range []int{2, 7, 9, 11} {
		v.Rows = append(v.Rows, row(i+9, fmt.Sprintf("Mello %d", n), "support", -9, feed.ChannelOK))
	}
	for i := range 3 {
		v.Rows = append(v.Rows, row(41+i, fmt.Sprintf("field %d", i+1), "ambient", -15, feed.ChannelOK))
	}
	for i := range 6 {
		v.Rows = append(v.Rows, row(45+i, fmt.Sprintf("pit %d", i+1), "pit", -6, feed.ChannelOK))
	}
	for _, r := range v.Rows[:12] {
		v.Next.Closes = append(v.Next.Closes, r.Player)
	}
	return v
}

// demoViews are the states that an operator must recognize at a glance.
func demoViews() map[string]run.View {
	list := map[string]run.View{"calm": demoView(), "refusal": demoView()}

	soon := demoView()
	soon.Next.Counts, soon.Now.Count, soon.NextAuto, soon.Ticks = 3, 66, nil, nil
	list["soon"] = soon

	overdue := demoView()
	overdue.Next.Counts, overdue.Now.Count, overdue.NextAuto, overdue.Ticks = -2.2, 71, nil, nil
	list["overdue"] = overdue

	silent := demoView()
	silent.Mixers[0].NoReply, silent.Mixers[0].ReplyAgoS, silent.Mixers[0].Unconfirmed = true, 12, 6
	for i := range silent.Rows {
		silent.Rows[i].Sign = feed.ChannelWaiting
	}
	silent.Problem, silent.ProblemAgoS = "NO REPLY from udp://127.0.0.1:9000: check power and cable", 10
	list["silent"] = silent

	manual := demoView()
	manual.Rows[1].Sign, manual.Rows[1].LevelDB = feed.ChannelManual, -31
	manual.Rows[9].Sign, manual.Rows[9].Muted = feed.ChannelMuted, true
	still := row(14, "Bari 9", "", -9, feed.ChannelStillOpen)
	still.ShowOpen = false
	manual.Rows = slices.Insert(manual.Rows, 12, still)
	manual.Holds, manual.Nudges = []string{"Tpt 9 (channel 4)"}, []string{"Tpt 1 +1.5 dB", "Mello 2 -2.0 dB"}
	manual.Swaps = []string{"Tpt 17 (channel 7) to channel 21"}
	list["manual"] = manual

	hushed := demoView()
	hushed.Hush, hushed.Rows = true, hushed.Rows[12:]
	for _, n := range []*run.NextCue{hushed.Next, hushed.NextAuto} {
		intent := n.Summary
		n.Intent, n.Summary = &intent, step.Summary{}
	}
	list["hushed"] = hushed

	standby := demoView()
	standby.Pair = standbyView().Pair
	standby.Pair.Mixers = standby.Mixers
	list["standby"], list["gone"] = standby, goneView("")

	takenOver := demoView()
	takenOver.Next.Counts, takenOver.Now.Count, takenOver.NextAuto, takenOver.Ticks = -2.2, 71, nil, nil
	takenOver.Pair = &run.PairView{
		Sends: true, Alone: true, Headline: "THIS LAPTOP SENDS NOW: laptop 1 is silent for 7 s", Term: 2,
	}
	list["takenover"] = takenOver

	thawed := demoView()
	thawed.Pair = &run.PairView{
		Headline: "THIS LAPTOP FROZE for 21.3 s: laptop 2 sends now. Nothing to do here", Yielded: true, Term: 2,
		Mixers: thawed.Mixers, Missing: 2,
	}
	thawed.Running = false
	list["thawed"] = thawed

	waits := demoView()
	waits.Pair = &run.PairView{Sends: true, Waits: true, Headline: "no standby yet: --standby 127.0.0.1:9 with the key A"}
	list["waits"] = waits

	sending := demoView()
	for i := range 8 {
		sending.Rows[i].Sign, sending.Rows[i].LevelDB = feed.ChannelWaiting, -70
	}
	sending.Mixers[0].Waiting, sending.Mixers[0].Unconfirmed = true, 67
	list["sending"] = sending

	full := demoView() // 29 open mics, with everything at once
	for i := range 8 {
		full.Rows = append(full.Rows, row(60+i, fmt.Sprintf("Extra %d", i+1), "full", -3, feed.ChannelOK))
	}
	full.Mixers = append(full.Mixers, run.MixerView{To: "udp://127.0.0.1:9001", Restarted: true, Up: true, Confirms: true})
	full.Hush, full.Next.Counts = true, -4
	full.Rows[1], full.Rows[9], full.Rows[12] = manual.Rows[1], manual.Rows[9], still
	full.Holds, full.Nudges, full.Swaps = manual.Holds, manual.Nudges, manual.Swaps
	full.Problem, full.ProblemAgoS = silent.Problem, 4
	list["full"] = full
	return list
}
