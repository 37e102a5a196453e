package rules

// scoreRules are the rules about what a cue says. The pass that opens the cue's mics finds what they warn about.
var scoreRules = []Rule{
	{
		Code: "keep-nothing", Section: TheScore, ForDesigner: true,
		Help: "the first cue has `keep`.",
		Fix:  "the first cue has `keep`. Leave it out.",
	},
	{
		Code: "close-nothing", Section: TheScore, ForDesigner: true,
		Help: "a cue closes something that is not open.",
		Fix:  "a cue closes what is not open. Leave it out.",
	},
	{
		Code: "nudge-closed", Section: TheScore, ForDesigner: true,
		Help: "a cue nudges a mic, by name, that it does not open.",
		Fix:  "a cue nudges a mic that it does not open. Open the mic, or leave the nudge out.",
	},
	{
		Code: "param-closed", Section: TheScore,
		Help: "a cue sets one of the mixer's own parameters for a mic, by name, that it does not open.",
		Fix:  "a cue sets a parameter of a mic that it does not open. Open the mic, or leave it out.",
	},
	{
		Code: "raw-scene", Section: TheScore,
		Help: "an extra message makes the mixer store or recall a scene, as mixer.toml describes it.",
		Fix:  "an extra message has the mixer store or recall a scene. Take it out, or accept it.",
	},
}
