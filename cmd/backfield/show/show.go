package show

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/cue/tonight"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stands"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc/mixer"
	"backfield/osc/presses"
	"backfield/osc/wire"
)

// LoadOptions change what the files say.
type LoadOptions struct {
	Venue    string             // path of a venue over the rig, instead of the score's
	Tonight  string             // path of a night that is laid over the show, "" for none
	Levels   bool               // check how loud the show is as well
	ReadOnly bool               // compile nothing: the files are all that Result has
	Bare     bool               // lay no venue over the rig, not even the score's
	Memo     *work.Memo         // kept by a caller that compiles the same show again and again
	Progress func(part float64) // called with the share of the compile that is done; see compile.Input
	Air      string             // air temperature, instead of the rig's: "88 F"; a bare number is in degrees Celsius
}

// Loaded is a show as far as it could be read and compiled. Result.Show is nil after errors.
type Loaded struct {
	*compile.Result
	Mixer  *mixer.Mixer
	Remote *presses.Remote    // what remote.toml says; nil if there is none
	Night  *tonight.NightPlan // what is laid over the show; nil for nothing
	Full   timeline.Files     // the show without the night
	Files  []string           // every file that was asked for, the score first
	Idle   []source.Idle

	prepared prepared
}

// Where is a player's or a fixed mic's place at a moment; ok is false for a name that is neither, and for a player who
// has no place then.
func (s *Loaded) Where(name string, m clock.Moment) (at layout.Point, ok bool) {
	for _, mic := range s.Rig.Mics {
		if mic.Name == name {
			return mic.At, true
		}
	}
	p, ok := s.Drill.Player(name)
	if !ok {
		return at, false
	}
	return p.At(s.Drill, m.Movement, m.Elapsed)
}

// Margins is how far in front of the front sideline a player or a fixed mic is, and how far behind the back one; 0
// where nobody does.
func (s *Loaded) Margins() (frontM, backM float64) {
	take := func(yM float64) { frontM, backM = max(frontM, -yM), max(backM, yM-s.Rig.Field.WidthM) }
	for _, mic := range s.Rig.Mics {
		take(mic.At.Y)
	}
	for _, p := range s.Drill.Players {
		for _, d := range p.Dots {
			if d.Known {
				take(d.At.Y)
			}
		}
	}
	return frontM, backM
}

// Path returns the score that a command's argument means: the file, or show.toml in a folder.
func Path(arg string) string {
	if info, err := os.Stat(arg); err == nil && info.IsDir() {
		return filepath.Join(arg, "show.toml")
	}
	return arg
}

// Unreadable is the error of Load when the score, or the venue or the night of the options, cannot be read.
type Unreadable struct {
	Path   string // as the user knows it: "--venue away.toml"
	Reason error
}

func (u *Unreadable) Error() string { return fmt.Sprintf("%s %v", u.Path, u.Reason) }

// Air reads a temperature for Options.
func Air(text string) (float64, error) {
	parts, err := unit.Parse(text)
	if err != nil {
		return 0, err
	}
	if doubt := unit.AirInDoubt(parts); doubt != nil {
		return 0, doubt
	}
	v, err := unit.Temperature.Sum(parts)
	if err == nil && !(v >= -40 && v <= 60) {
		err = fmt.Errorf("air of %s is out of range (-40 to 60 C, -40 to 140 F)", unit.AirText(v))
	}
	return v, err
}

// venueNear looks for a venue next to the score: under its name without folder or ending, "" for none.
func venueNear(rd Reader, dir, name string) string {
	name = strings.TrimSuffix(filepath.Base(name), ".toml") + ".toml"
	for _, path := range []string{filepath.Join(dir, "venues", name), filepath.Join(dir, name)} {
		if _, err := rd.Read(path); err == nil {
			return path
		}
	}
	return ""
}

// Load reads and compiles the show whose score is at path. What is wrong in its files goes to p; the error
// is for what the caller named and cannot be read, the score or a venue, or options that make no sense.
func Load(rd Reader, path string, o LoadOptions, p *source.Problems) (*Loaded, error) {
	l := loader{rd: rd, p: p, dir: filepath.Dir(path)}
	s := &Loaded{Files: []string{path}}
	file, err := named(rd, path, "score")
	if err != nil {
		return s, &Unreadable{path, err}
	}
	var given *source.File // the venue of the options
	if o.Venue != "" {
		s.Files = append(s.Files, o.Venue)
		if given, err = named(rd, o.Venue, "rig"); err != nil {
			if near := venueNear(rd, l.dir, o.Venue); near != "" && errors.Is(err, errNotThere) {
				err = fmt.Errorf("is not there; did you mean --venue %s?", near)
			}
			return s, &Unreadable{"--venue " + o.Venue, err}
		}
	}
	sc := score.Read(file, p)
	f := l.openAll(sc, given, o)
	if err := l.night(s, o.Tonight); err != nil {
		s.Files = append(s.Files, o.Tonight)
		return s, err
	}
	before := p.Errors()
	in := compile.Input{Memo: o.Memo, Progress: o.Progress}
	in.Score, in.Rig = sc, l.readRig(f, s.Night)
	s.Files = append(s.Files[:1], l.files...)
	if err := airOf(in.Rig, f.rig, o.Air, p); err != nil {
		return s, err
	}
	in.Drill = drill.Read(drill.Sheets{Sets: f.sets, Dots: f.dots, Columns: sc.Columns, Together: sc.Together,
		Words: sc.Words}, in.Rig.Field, p)
	s.Mixer = readMixer(f.mixer, in.Rig.Zones, p)
	for _, c := range sc.Cues {
		at := c.Name.Span
		if !c.Name.Set {
			at = c.ID.Span
		}
		s.Mixer.CheckSceneSize(mixer.SceneName(c.ID.V, c.Name.V), at, p)
	}
	in.Mixer = limits(s.Mixer, p)
	if in.Rig.Zones && f.mixer != nil && len(s.Mixer.Params) > 0 && !s.Mixer.Has(cue.ParamSend) {
		p.Error("mixer-no-send", f.mixer.Whole(), "the rig feeds its stacks by zones, but the mixer has no [send]",
			`add [send] with an address such as "/in/{channel}/zone/{zone}", or write feed = "stereo" in the rig`)
	}
	in.Doubt = p.Errors() > before || in.Rig.Partial || in.Rig.Misplaced || in.Drill.PartialDots || f.mixer == nil
	in.Roster = roster.Read(f.roster, p)
	s.Full = in.Files
	if s.Night != nil {
		in.Files = s.Night.Apply(&s.Full, p)
	}
	s.Remote = l.remote(file.Whole())
	s.Files = append(s.Files[:1], l.files...)
	if o.ReadOnly {
		s.Result = &compile.Result{Input: in}
		return s, nil
	}
	s.Result = compile.Compile(in, p)
	if o.Levels {
		s.checkLevels(f, p)
	}
	s.Idle = p.AllIdle()
	return s, nil
}

// showFiles are the files that a score names; nil for one that it does not name or that cannot be read.
type showFiles struct{ sets, dots, roster, rig, venue, mixer *source.File }

// openAll opens the files that a score names. given is the venue of the options, nil for none.
func (l *loader) openAll(sc *score.Score, given *source.File, o LoadOptions) (f showFiles) {
	for i := range sc.Movements {
		l.music(&sc.Movements[i])
	}
	f.sets = l.open(sc.Sets, "drill", table.CSVLimit)
	f.dots = l.open(sc.Dots, "drill", table.CSVLimit)
	f.roster = l.open(sc.Roster, "roster", table.CSVLimit)
	f.rig = l.open(sc.Rig, "rig", table.TOMLLimit)
	f.venue = given
	switch {
	case given != nil:
		l.files = append(l.files, o.Venue)
		given.Order = len(l.files)
	case !o.Bare:
		f.venue = l.open(sc.Venue, "rig", table.TOMLLimit)
	}
	if filepath.Base(sc.Mixer.V) == "desk.toml" { // its name before 0.6.0
		l.p.Error("bad-choice", sc.Mixer.Span, "desk.toml is now called mixer.toml",
			"rename the file, and write its new name here")
		return f // that it is not there says no more
	}
	f.mixer = l.open(sc.Mixer, "mixer", table.TOMLLimit)
	return f
}

// readRig reads the rig, its venue, the night over both, and the seats that one of them names.
func (l *loader) readRig(f showFiles, night *tonight.NightPlan) *rig.Rig {
	r := rig.ReadNight(f.rig, f.venue, night.Lays(), l.p)
	if name := r.SeatsFile; name.V != "" { // relative to the rig or venue that names it
		if seats := l.openRelative(name, filepath.Dir(name.Span.File.Name), "stand", table.CSVLimit); seats != nil {
			r.Surveyed = stands.ReadSeats(seats, l.p)
		}
	}
	return r
}

// airOf gives the rig the air temperature of the options, and warns if there is none at all.
func airOf(r *rig.Rig, file *source.File, given string, p *source.Problems) (err error) {
	if given == "" {
		if !r.AirGiven && file != nil && !r.Partial {
			p.Warn("no-air", file.Whole(),
				"no air temperature is given; Backfield uses "+unit.AirText(r.AirC),
				`write air = "24 C" or "75 F" in the rig, or use --air on the night`)
		}
		return nil
	}
	if r.AirC, err = Air(given); err != nil {
		return fmt.Errorf("--air: %w", err)
	}
	return nil
}

// readMixer reads the mixer's file and warns of what a show needs and it lacks. Without a file the mixer is empty.
func readMixer(file *source.File, zones bool, p *source.Problems) *mixer.Mixer {
	if file == nil {
		return &mixer.Mixer{}
	}
	d := mixer.Read(file, p)
	d.WarnMissing(cue.ParamDelay, file, p)
	if !zones { // else the sends make the image
		d.WarnMissing(cue.ParamPan, file, p)
	}
	if _, err := wire.Address(d.To.V); err != nil {
		p.Warn("mixer-to", d.To.Span, err.Error(), "until you fix it, send and run need --to")
	}
	return d
}

// limits are what the compiler needs to know about the mixer.
func limits(d *mixer.Mixer, p *source.Problems) timeline.MixerSpec {
	law, ok := sound.LawByName(d.PanLaw.Or("constant-power"))
	if !ok {
		p.Error("bad-choice", d.PanLaw.Span, fmt.Sprintf("unknown pan law %q", d.PanLaw.V),
			source.DidYouMean(d.PanLaw.V, sound.LawNames(), "it is "+source.OneOf(sound.LawNames())))
	}
	of := func(param string) timeline.Limits {
		l := d.Limits(param)
		return timeline.Limits{Min: l.Min, Max: l.Max, Step: l.Step}
	}
	channels := d.Channels
	if len(d.Params) == 0 { // no mixer could be read: that is the problem to report, not every channel
		channels = math.MaxInt32
	}
	var own []timeline.Param
	for _, x := range d.Own() {
		own = append(own, timeline.Param{MixerParam: x.MixerParam, Limits: of(x.Name), Default: x.Default})
	}
	return timeline.MixerSpec{Params: own, CheckRaw: d.CheckExtra, Channels: channels, Law: law, Moves: d.Moves,
		Pan: of(cue.ParamPan), Delay: of(cue.ParamDelay), Level: of(cue.ParamLevel), Send: of(cue.ParamSend),
		CeilingDB: d.CeilingDB}
}
