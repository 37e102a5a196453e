package rules

// levelRules are the rules about how loud the show is. Package heard finds what they warn about, since it takes the
// levels of every seat.
var levelRules = []Rule{
	{
		Code: "ring-margin", Section: Safety, Heard: true,
		Help: "all open mics together come closer to feedback than `balance.margin`, default 6 dB. It names the\n" +
			"three that ring first, and where on the walk. Cues in which the same fixed mics ring first are\n" +
			"one warning for the whole show: accept it under `[check]`. Only once noise and brass were\n" +
			"measured.",
		Fix: "the open mics are close to feedback. Bring down those that are named. `balance` proposes by\n" +
			"how much.",
	},
	{
		Code: "loud-near", Section: Safety, Heard: true,
		Help: "the loudspeakers are louder than `check.near_db`, default 100 dBA, at somebody's ear: of a\n" +
			"player, in a seat, or at a place in `people` of the rig. Only once noise and brass were\n" +
			"measured.",
		Fix: "the loudspeakers are loud where people are. Keep them away, bring the stacks down, and\n" +
			"measure there.",
	},
	{
		Code: "dose", Section: Safety, Heard: true,
		Help: "over a day of `balance.day`, default 3 h, somebody gets more than a day's dose of sound by\n" +
			"NIOSH, or more than half of one from the loudspeakers alone. For brass and drums that is usual,\n" +
			"and still too much. Only once noise and brass were measured.",
		Fix: "somebody gets more than a day's dose of sound. Hand out hearing protection, and measure.",
	},
	{
		Code: "not-heard", Section: TheSound, Heard: true,
		Help: "in the octave in which the featured players stand out most, they are less than `check.best`,\n" +
			"default 0 dB, over all others at `balance.share` of the seats. Featured are the worn mics in the\n" +
			"loudest open role with a lead in `[balance]`, or else in the loudest open role. `backfield help\n" +
			"balance` says how this is estimated, and how far off it may be.",
		Fix: "the featured players are not heard over the others. `balance` says who covers them.",
	},
	{
		Code: "lead-short", Section: TheSound, Heard: true,
		Help: "the lead of the featured players at `balance.share` of the seats is under what `[balance]` wants\n" +
			"of their role, by more than `check.lead`, default 3 dB. Left out where they are not heard at all:\n" +
			"`not-heard` says more, also where it is accepted.",
		Fix: "the featured players lead by less than `[balance]` wants. `balance` says what would help.",
	},
	{
		Code: "stack-leads", Section: TheSound, Heard: true,
		Help: "the stacks carry the featured players so much louder than they are on their own that the ear\n" +
			"goes to the stacks: by over 2 dB more than `balance.over`, default 10 dB, at the press box (of\n" +
			"less, nothing is proposed), or by more than 15 dB at half of the seats. Only once noise and\n" +
			"brass were measured.",
		Fix: "the ear goes to the stacks instead of the player. Bring the player's mic down, or all\n" +
			"others.",
	},
	{
		Code: "level-odd", Section: TheSound, Heard: true,
		Help: "a reading in `[levels]` is far from what is usual, or does not go with the others, or a preamp\n" +
			"(`meter`) is more than 12 dB off. Accept it under `[check]`. `backfield help balance` has what is\n" +
			"usual.",
		Fix: "a reading in `[levels]`, or a preamp, is far from what is usual. Check it.",
	},
	{
		Code: "level-noise", Section: TheSound, Heard: true,
		Help: "a reading in `[levels]` is less than 3 dB above the background, so it is not used. Where that is\n" +
			"so of most, the background is the one to read again.",
		Fix: "a reading in `[levels]` is less than 3 dB above the background. It is not used: read it\n" +
			"again when it is quieter.",
	},
	{
		Code: "level-unused", Section: TheSound, Heard: true,
		Help: "a reading in `[levels]` is not used: nothing has the name that it gives, no meter reads such a\n" +
			"number, or the same player or mic is read twice. Nothing that is sent depends on it.",
		Fix: "a reading in `[levels]` is not used: a name or the number is wrong, or it is there\n" +
			"twice. Fix it, or remove it.",
	},
	{
		Code: "open-rests", Section: TheScore, ForDesigner: true, Heard: true,
		Help: "a cue opens the mic of a player who, as its `rests` say, does not play.",
		Fix:  "a cue opens the mic of a player who rests. Take the player out of `rests`, or close the mic.",
	},
	{
		Code: "dynamics-unused", Section: TheScore, ForDesigner: true, Heard: true,
		Help: "a cue says how loudly somebody plays, and neither an open mic nor `plays` nor the music says\n" +
			"that they play. So they are not counted among those who cover the featured.",
		Fix: "a cue says how loudly somebody plays who is not counted. Add `plays`, or remove\n" +
			"the dynamics.",
	},
	{
		Code: "levels-unknown", Section: TheSound, Heard: true,
		Help: "nothing is said about how loud the show is, since nobody knows how loud an instrument is. Give\n" +
			"its players another in the roster's column `instrument`, or accept it under `[check]`.",
		Fix: "nobody knows how loud an instrument is. Name one that is known in the roster.",
	},
}
