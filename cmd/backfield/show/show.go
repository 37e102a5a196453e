package show

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"backfield/cue"
	"backfield/cue/compile"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/layout/drill"
	"backfield/layout/rig"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/stand"
	"backfield/layout/table"
	"backfield/layout/unit"
	"backfield/osc/desk"
)

// Options change what the files say.
type Options struct {
	Venue string        // path of a venue to lay over the rig, in place of the score's
	Bare  bool          // lay no venue over the rig, not even the score's
	Memo  *compile.Memo // kept by a caller that compiles the same show again and again
	Air   string        // air temperature, in place of the rig's: "88 F"; a bare number is in degrees Celsius
}

// Show is a show as far as it could be read and compiled. Result.Show is nil after errors.
type Show struct {
	*compile.Result
	Desk  *desk.Desk
	Files []string // every file that was asked for, the score first
}

// Path returns the score that a command's argument means: the file, or show.toml in a folder.
func Path(arg string) string {
	if info, err := os.Stat(arg); err == nil && info.IsDir() {
		return filepath.Join(arg, "show.toml")
	}
	return arg
}

// Unreadable is the error of Load when the score itself cannot be read.
type Unreadable struct {
	Path   string
	Reason error
}

func (u *Unreadable) Error() string { return fmt.Sprintf("%s %v", u.Path, u.Reason) }

// Air reads a temperature for Options.
func Air(text string) (float64, error) {
	v, err := unit.Temperature.Read(text)
	if err == nil && !(v >= -40 && v <= 60) {
		err = fmt.Errorf("%.4g C is out of all measure", v)
	}
	return v, err
}

// Load reads and compiles the show whose score is at path. What is wrong in its files goes to p; the error
// is for a score that cannot be read at all, or options that make no sense.
func Load(rd Reader, path string, o Options, p *source.Problems) (*Show, error) {
	l := loader{rd: rd, p: p, dir: filepath.Dir(path)}
	raw, err := rd.Read(path)
	s := &Show{Files: []string{path}}
	if err != nil {
		return s, &Unreadable{path, err}
	}
	file, err := source.Open(path, raw, table.TOMLLimit)
	if err != nil {
		return s, &Unreadable{path, fmt.Errorf("is %w", err)}
	}
	sc := score.Read(file, p)
	sets := l.open(sc.Sets, table.CSVLimit)
	dots := l.open(sc.Dots, table.CSVLimit)
	rosterFile := l.open(sc.Roster, table.CSVLimit)
	rigFile := l.open(sc.Rig, table.TOMLLimit)
	var venueFile *source.File
	if !o.Bare {
		venueFile = l.venue(sc.Venue, o.Venue)
	}
	deskFile := l.open(sc.Desk, table.TOMLLimit)
	before := p.Errors()
	in := compile.Input{Score: sc, Rig: rig.Read(rigFile, venueFile, p)}
	if name := in.Rig.SeatsFile; name.V != "" { // relative to the rig or venue that names it
		if seats := l.beside(name, filepath.Dir(name.Span.File.Name), table.CSVLimit); seats != nil {
			in.Rig.Surveyed = stand.ReadSeats(seats, p)
		}
	}
	s.Files = append(s.Files[:1], l.files...)
	if !in.Rig.AirGiven && o.Air == "" && rigFile != nil && !in.Rig.Partial {
		p.Warn("no-air", rigFile.Whole(), fmt.Sprintf("no air temperature is given, %g C is taken", in.Rig.AirC), `write air = "24 C" in the rig, or use --air on the night`)
	}
	if o.Air != "" {
		if in.Rig.AirC, err = Air(o.Air); err != nil {
			return s, fmt.Errorf("--air: %w", err)
		}
	}
	in.Memo = o.Memo
	in.Drill = drill.Read(sets, dots, in.Rig.Field, p)
	s.Desk = &desk.Desk{}
	if deskFile != nil {
		s.Desk = desk.Read(deskFile, p)
	}
	in.Desk = limits(s.Desk, p)
	if in.Rig.Zones && deskFile != nil && len(s.Desk.Params) > 0 && !s.Desk.Has(cue.ParamSend) {
		p.Error("desk-no-send", deskFile.Whole(), "the rig feeds its stacks by zones and the desk has no [send]", `add [send] with an address such as "/in/{channel}/zone/{zone}", or write feed = "stereo" in the rig`)
	}
	in.Doubt = p.Errors() > before || in.Rig.Partial || in.Drill.PartialDots || deskFile == nil
	in.Roster = roster.Read(rosterFile, p)
	s.Result = compile.Compile(in, p)
	return s, nil
}

// limits tells the compiler what it needs to know of the desk.
func limits(d *desk.Desk, p *source.Problems) compile.Desk {
	law, ok := sound.LawByName(d.PanLaw.Or("constant-power"))
	if !ok {
		p.Error("bad-choice", d.PanLaw.Span, fmt.Sprintf("no pan law %q is known", d.PanLaw.V), source.DidYouMean(d.PanLaw.V, sound.LawNames(), "it is "+source.OneOf(sound.LawNames())))
	}
	of := func(param string) compile.Limits {
		l := d.Limits(param)
		return compile.Limits{Min: l.Min, Max: l.Max, Step: l.Step}
	}
	channels := d.Channels
	if len(d.Params) == 0 { // no desk could be read: that is the problem to report, not every channel
		channels = math.MaxInt32
	}
	return compile.Desk{Channels: channels, Law: law, Pan: of(cue.ParamPan), Delay: of(cue.ParamDelay), Level: of(cue.ParamLevel), Send: of(cue.ParamSend), CeilingDB: d.CeilingDB}
}

// loader reads the files that a score names, relative to its folder.
type loader struct {
	rd    Reader
	p     *source.Problems
	dir   string
	files []string
}

// open reads a file that the score names.
func (l *loader) open(name table.Text, limit int) *source.File { return l.beside(name, l.dir, limit) }

// beside reads a file that another file names, relative to a folder.
func (l *loader) beside(name table.Text, dir string, limit int) *source.File {
	switch {
	case !name.Set:
		return nil // reported as a missing key, or not needed
	case name.V == "":
		l.p.Error("cannot-read", name.Span, "this file name is empty", "write the file's name, or take the key out")
		return nil
	}
	path := name.V
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, path)
	}
	return l.read(path, limit, name.Span)
}

func (l *loader) read(path string, limit int, at source.Span) *source.File {
	l.files = append(l.files, path)
	raw, err := l.rd.Read(path)
	if err != nil {
		l.p.Error("cannot-read", at, fmt.Sprintf("%s %v", path, err), "")
		return nil
	}
	file, err := source.Open(path, raw, limit)
	if err != nil {
		l.p.Error("cannot-read", at, fmt.Sprintf("%s is %v", path, err), "")
		return nil
	}
	file.Order = len(l.files)
	return file
}

// venue reads the venue of the command line, which is relative to the working directory, or the score's.
func (l *loader) venue(named table.Text, given string) *source.File {
	if given != "" {
		return l.read(given, table.TOMLLimit, source.Span{})
	}
	return l.open(named, table.TOMLLimit)
}
