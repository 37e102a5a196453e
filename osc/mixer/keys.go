package mixer

import (
	"backfield/cue"
	"backfield/layout/osctype"
	"backfield/layout/table"
	"backfield/osc/form"
	"backfield/osc/scale"
)

// FileKeys are the keys of mixer.toml as they are written.
type FileKeys struct {
	To        table.Text         `key:"to"`
	Rate      table.Int          `key:"rate"`
	Channels  table.Int          `key:"channels"`
	PanLaw    table.Text         `key:"pan_law"`
	Bundle    table.Flag         `key:"bundle"`
	MaxPacket table.Int          `key:"max_packet"`
	Mute      switchKeys         `key:"mute,required"`
	Level     levelKeys          `key:"level,required"`
	Pan       panKeys            `key:"pan"`
	Delay     delayKeys          `key:"delay"`
	Send      levelKeys          `key:"send"`
	Param     table.Map[ownKeys] `key:"param"`

	Also      []table.Text      `key:"also"`
	Tick      table.Int         `key:"tick"`
	Repeat    table.Flag        `key:"repeat"`
	Manual    manualWord        `key:"manual"`
	Echo      *echoKeys         `key:"echo"`
	Query     *form.MessageKeys `key:"query"`
	Keepalive []keepaliveKeys   `key:"keepalive"`
	Store     *storeKeys        `key:"store"`
	Recall    *form.MessageKeys `key:"recall"`
	Safety    *safetyKeys       `key:"safety"`
}

// Keys lists every key that mixer.toml may have, with a dot for nested ones. A test compares the help page with it.
func Keys() []string { return table.Keys(FileKeys{}) }

// OwnKeys lists the keys of a table under [param], as Keys does for the file.
func OwnKeys() []string { return table.Keys(ownKeys{}) }

// paramKeys are the keys that all parameters have. T is numberType or switchType.
type paramKeys[T any] struct {
	table.Where
	Address table.Text `key:"address,required"`
	Type    T          `key:"type"`
	Scale   scale.Keys `key:"scale"`
}

type (
	numberKeys = paramKeys[numberType]
	switchKeys = paramKeys[switchType]
)

// limitKeys are the range and the step of a number.
type limitKeys struct {
	Min  table.Quantity `key:"min"`
	Max  table.Quantity `key:"max"`
	Step table.Quantity `key:"step"`
}

// levelKeys are for a number in dB: a channel's level, or its send to a zone.
type levelKeys struct {
	numberKeys
	limitKeys
	Off table.Num `key:"off"`
}

type panKeys struct {
	numberKeys
	limitKeys
}

type delayKeys struct {
	numberKeys
	Unit       unitName  `key:"unit"`
	SampleRate table.Num `key:"sample_rate"`
	limitKeys
	Moves  movesWord      `key:"moves"`
	Settle table.Quantity `key:"settle"`
}

// ownKeys is one table under [param]: a number or a switch.
type ownKeys struct {
	switchKeys
	Unit table.Text `key:"unit"`
	limitKeys
	Default table.Setting `key:"default,required"`
	Fade    table.Flag    `key:"fade"`
}

type echoKeys struct {
	table.Where
	Tolerance table.Num `key:"tolerance"`
}

type keepaliveKeys struct {
	form.MessageKeys
	Every table.Quantity `key:"every,required"`
}

type storeKeys struct {
	form.MessageKeys
	Settle table.Quantity `key:"settle"`
	First  table.Int      `key:"first"`
	Slots  table.Int      `key:"slots,required"`
}

type safetyKeys struct {
	table.Where
	Rise    table.Quantity `key:"rise"`
	Ramp    table.Quantity `key:"ramp"`
	Ceiling table.Quantity `key:"ceiling"`
	Channel []ceilingKeys  `key:"channel"`
}

type ceilingKeys struct {
	table.Where
	Channel table.Int      `key:"channel,required"`
	Ceiling table.Quantity `key:"ceiling,required"`
}

// numberType is an OSC number type as it is written.
type numberType struct{ table.Text }

// Words lists the number types.
func (numberType) Words() []string { return osctype.Letters(osctype.Number) }

// switchType is any OSC type as it is written, since the two values of a switch may be of any kind.
type switchType struct{ table.Text }

// Words lists all types.
func (switchType) Words() []string { return osctype.LettersByKind() }

// The values of manual: when the run takes back what someone moved at the mixer.
const (
	untilOpen    = "until open"
	untilRelease = "until release"
)

// manualWord is when manual ends, as it is written.
type manualWord struct{ table.Text }

// Words lists the values of manual.
func (manualWord) Words() []string { return []string{untilOpen, untilRelease} }

// movesWord is how the delay may change while the channel is open, as it is written.
type movesWord struct{ table.Text }

// Words lists the values of moves.
func (movesWord) Words() []string {
	return []string{string(cue.Closed), string(cue.AtCues), string(cue.Glides)}
}

// unitName is a unit of delay as it is written.
type unitName struct{ table.Text }

// Words lists the units.
func (unitName) Words() []string { return delayUnitNames() }
