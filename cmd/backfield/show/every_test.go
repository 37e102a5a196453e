package show_test

// every is a small show that says something under every key by which a number is computed.
var every = files{
	"show.toml": `
title = "Every Key"
drill = { sets = "sets.csv", dots = "dots.csv" }
roster = "roster.csv"
rig = "rig.toml"
mixer = "mixer.toml"
venue = "venue.toml"
always.support = ["field mic", "pit mic", "synth"]

[mix]
feature = { level = 1.5, open_early = 0.5 }
support = { level = -9, policy = "least-error", air = 2 }
bed = { level = -12, policy = "never-early", box = [2, 30] }

[delay]
policy = "most-seats"
lead = 8
window = 22
margin = 1.5
box = [4, 18]
slew = 6
dip = 0.5
knot = 0.5

[pan]
width = 0.7
by = "tangent"
angle = 1
knot = 0.01

[zones]
most = 2

[make_up]
from = 20
max = 3

[check]
near_stack = 4
most_open = 4
settle = 0.6
press = 1.2
handover = 25
pickup = 6
uneven = 5
best = 1
lead = 4
near_db = 95
echo = 30
held = 12
fit = 45

[[movement]]
name = "one"
counts = 16
tempo = [
  { at = 1, bpm = 120 },
  { at = 5, bpm = 140, over = 4 },
  { at = 11, pause = 0.5 },
]

[[movement]]
wait = 2
tempo = 100

[[movement]]
wait = 1
tempo = { music = "tune.musicxml", beat = "quarter", from = "m. 3", to = "m. 5", pauses = [{ at = 4, pause = 0.5 }] }

[[cue]]
id = "1"
at = "1:1"
fade = 2
open.feature = ["A"]
open.support = ["B"]
nudge = { A = -1.5 }
param.air = { A = 3 }

[[cue]]
id = "2"
at = "1:7"
keep = true
policy = "joint"

[[cue]]
id = "3"
after = 4
open.feature = ["C"]
open.bed = ["A", "B"]
fade_out = 1

[[cue]]
id = "4"
at = "2:3"
close = ["field mic"]
open.support = ["A", "B"]
box = [3, 25]

[[cue]]
id = "5"
at = "3:5"
name = "with music"
policy = "joint"
also = [{ address = "/scene", args = [7], types = "i" }]
open_early = 1.5
open.feature = ["A", "C"]
`,
	"tune.musicxml": `<score-partwise version="4.0"><part-list/><part id="P1">
<measure number="3"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<sound tempo="132"/><note><rest/><duration>4</duration></note></measure>
<measure number="4"><sound tempo="96"/><note><rest/><duration>4</duration></note></measure>
<measure number="5"><note><rest/><duration>4</duration></note></measure></part></score-partwise>`,
	"sets.csv": "set,movement,counts,hold\n1,1,0,0\n2,1,8,2\n3,1,8,1\n4,2,0,0\n5,2,16,0\n6,3,0,0\n7,3,8,0\n",
	"dots.csv": "set,player,x,y\n" +
		"1,A,-6,40\n2,A,-2,43\n3,A,4,44\n4,A,4,44\n5,A,12,40\n" +
		"1,B,12,60\n2,B,15,58\n3,B,19,60\n4,B,19,60\n5,B,10,62\n" +
		"1,C,40,70\n2,C,40,70\n3,C,38,67\n4,C,38,67\n5,C,36,60\n" +
		"6,A,12,40\n7,A,2,42\n6,B,10,62\n7,B,10,62\n6,C,36,60\n7,C,24,52\n",
	"roster.csv": "player,section,pack,channel,from,height,trim,policy,param.air\n" +
		"A,trumpet,P1,1,,1.4,-0.5,,\nB,horn,P2,2,,,1,reference,1\nC,tuba,P3,3,,1.8,,,\n",
	"rig.toml": `
field = "college"
latency = { worn = 4, wired = 1.5, line = 0.5 }
air = 18
feed = "stereo"
seats = "seats.csv"

[reference]
x = 1
y = -30
z = 15
weight = 2

[[stands]]
name = "low"
front = { x = 0, y = -12, z = 2, width = 60 }
back = { x = 2, y = -30, z = 12, width = 80 }
rows = 4
seats = 9
weight = 1.5

[[stands]]
name = "high"
front = { y = -31, z = 13, width = 70 }
back = { y = -40, z = 18, width = 80 }
rows = 2
spacing = 9

[[stack]]
name = "left"
at = { x = -20, y = -2, z = 2.5 }
left = 1
right = 0.1
trim = -1
delay = 1
zone = 1

[[stack]]
name = "middle"
at = "on the 50; 3 in front of front sideline"
height = 2.2
left = 0.2
right = 0.2
trim = -3
delay = 3
zone = 2

[[stack]]
name = "right"
at = { x = 20, y = -2, z = 2.5 }
left = 0
right = 1
zone = 3

[[stack]]
name = "sub"
at = { x = 2, y = 24, z = 0.5 }
sub = true

[[mic]]
name = "field mic"
kind = "field"
channel = 9
at = { x = 3, y = 1, z = 1 }
trim = -2

[[mic]]
name = "pit mic"
kind = "pit"
channel = 10
at = "on the 50; 4 in front of front sideline"
height = 1.2
pan = 0.25
delay = 12

[[mic]]
name = "synth"
kind = "line"
channel = 11
at = { x = 4, y = -2, z = 1 }
delay = "auto"
`,
	"seats.csv":  "x,y,z,weight\n-30,-20,6,2\n31,-22,6.5,3\n",
	"venue.toml": "name = \"away\"\nair = 21\n[[stack]]\nname = \"left\"\ntrim = -1.5\n",
	"mixer.toml": `
to = "127.0.0.1:9000"
channels = 32
pan_law = "linear"
manual = "until release"
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
scale = { from = [-60, 10], to = [0, 1] }
min = -50
max = 8
step = 0.5
[pan]
address = "/in/{channel}/pan"
min = -0.5
max = 0.5
step = 0.02
[delay]
address = "/in/{channel}/delay"
min = 0
max = 300
step = 0.2
moves = "glide"
settle = "80 ms"
[send]
address = "/in/{channel}/zone/{zone}"
scale = { from = [-70, 10], to = [0, 1] }
min = -65
max = 3
step = 0.5
[param.air]
address = "/in/{channel}/air"
scale = { from = [-12, 12], to = [0, 1] }
unit = "dB"
step = 0.5
default = 1
[param.low_cut]
address = "/in/{channel}/low_cut"
min = 20
max = 400
step = 10
default = 80
[safety]
ceiling = 5
channel = [{ channel = 1, ceiling = 3.5 }]
`,
}
