package rules

// scoring are the rules about what a cue says. They are found as it is opened.
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
		Fix:  "a nudge of a mic that is not open in the cue. Open it or leave it out.",
	},
	{
		Code: "param-closed", Section: TheScore,
		Help: "a cue sets one of the mixer's own parameters for a mic, by name, that it does not open.",
		Fix:  "a cue sets a parameter of a mic that it does not open. Open it or leave it out.",
	},
	{
		Code: "raw-scene", Section: TheScore,
		Help: "an extra message makes the mixer store or recall a scene, as mixer.toml describes it.",
		Fix:  "a raw line that has the mixer store or recall a scene. Take it out, or accept it.",
	},
}
