package help

import (
	"maps"
	"slices"
)

// byWord finds pages by words and file names that a reader may try, other than the pages' own names and the commands.
var byWord = map[string]string{
	"dot": "drill", "dots": "drill", "dots.csv": "drill", "set": "drill", "sets": "drill", "sets.csv": "drill",
	"coordinates": "drill", "hold": "drill",
	"show": "score", "show.toml": "score", "cue": "score", "cues": "score", "movement": "score", "role": "score",
	"roles": "score", "after": "score", "automatic": "score",
	"venue": "rig", "venues": "rig", "rig.toml": "rig", "stack": "rig", "stacks": "rig", "air": "rig", "field": "rig",
	"roster.csv": "roster", "pack": "roster", "packs": "roster", "player": "roster", "players": "roster",
	"click": "clicks", "glide": "clicks", "moves": "clicks", "try": "clicks",
	"audio": "simulated-mixer", "wav": "simulated-mixer",
	"mixer.toml": "mixer", "fader": "mixer", "faders": "mixer", "scale": "mixer", "keepalive": "mixer",
	"delay": "numbers", "delays": "numbers", "pan": "numbers", "pans": "numbers", "level": "numbers",
	"levels": "numbers",
	"loud":   "balance", "loudness": "balance", "lead": "balance", "feedback": "balance", "dynamics": "score",
	"count": "counts", "moment": "counts", "moments": "counts",
	"tempo": "music", "midi": "music", "musicxml": "music",
	"code": "problems", "codes": "problems", "warning": "problems", "warnings": "problems", "error": "problems",
	"errors": "problems", "problem": "problems",
	"seat": "stands", "seats": "stands",
	"zone": "zones", "sends": "zones",
	"parameter": "parameters", "effects": "parameters",
	"snapshots.json": "snapshots", "snapshots.csv": "snapshots", "messages.txt": "snapshots",
	"swap": "run", "hush": "run", "unhush": "run", "jump": "run", "nudge": "run", "go": "run", "back": "run",
	"release": "run", "journal": "run", "resume": "run", "rehearse": "run",
	"fade": "score", "fades": "score", "keep": "score", "handover": "roster", "handovers": "roster",
	"path": "score", "paths": "score", "knot": "score", "slew": "score", "box": "score",
	"tonight.toml": "tonight", "absent": "tonight", "ill": "tonight", "rain": "tonight", "standing": "tonight",
	"substitute": "tonight", "cut": "tonight", "cuts": "tonight", "dead": "tonight", "night": "tonight",
	"tablet": "remote", "scenes": "store", "schemas": "editors", "completions": "shell",
}

// renamed are the names that pages had before 0.6.0, where no page has them now. Of "mixer", which has moved too, the
// new page refers to the other.
var renamed = map[string]string{
	"desk": "mixer", "positions": "counts", "rules": "checks", "stand": "stands", "machines": "network",
	"threats": "security", "params": "parameters",
}

// ByWord is the page that a word leads to, which is none of the pages' own names. ok is false where there is none.
func ByWord(word string) (topic string, ok bool) {
	topic, ok = byWord[word]
	return topic, ok
}

// Renamed is the new name of a page that had another one before 0.6.0. ok is false for every other word.
func Renamed(topic string) (now string, ok bool) {
	now, ok = renamed[topic]
	return now, ok
}

// Words are all words that ByWord knows, in order.
func Words() []string { return slices.Sorted(maps.Keys(byWord)) }
