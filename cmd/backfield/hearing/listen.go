// Package hearing has the command that says what one seat hears of one mic, and writes a sound file of it.
package hearing

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/audio"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/cue"
	"backfield/cue/seat"
	"backfield/layout/seatname"
	"backfield/layout/source"
	"backfield/osc/ears"
	"backfield/osc/wave"
)

// listenFlags are the command's own flags.
type listenFlags struct {
	seat, player, way, sound, out, against string
	json                                   bool
}

// Listen is the command.
func Listen() *cobra.Command {
	var flags verb.ShowFlags
	var own listenFlags
	c := &cobra.Command{
		Use:   "listen SHOW CUE",
		Short: "list what one seat hears of a mic, and write a sound file of it",
		Long: `Lists when the player's own sound and each stack arrive at a seat in a cue, how loud, and from where. With
-o it writes a WAV file of it for headphones. It plays nothing and sends nothing.

    backfield listen SHOW 6 --seat 12-66                      row 12, seat 66
    backfield listen SHOW 6 --seat 12-66 -o seat.wav --way zones
    backfield listen SHOW 6 --seat 12-66 -o both.wav --against zones      one after the other
    backfield listen SHOW 6 --seat box --player "Tpt 3" -o box.wav --sound dry.wav

Turn your headphones down before you play a file: start low. backfield help listen says what the
sound leaves out.`,
		Args: verb.Exactly(2, "SHOW and CUE"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := own.check(c); err != nil {
				return err
			}
			dry, err := own.dry(c)
			if err != nil {
				return err
			}
			s, _, err := flags.Compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			heard, err := own.hear(s, args[1])
			if err != nil {
				return err
			}
			var r *ears.Rendering
			if own.out != "" {
				r = render(dry, heard)
				if err := own.write(r); err != nil {
					return err
				}
			}
			return own.print(c, heard, r)
		},
	}
	flags.Add(c)
	f := c.Flags()
	f.StringVar(&own.seat, "seat", "", "the `SEAT`: 12-66 is row 12, seat 66; 66L is seat 66 of row L; or box")
	f.StringVarP(&own.out, "output", "o", "", "write this WAV `FILE`")
	f.StringVar(&own.player, "player", "", "the `PLAYER` or fixed mic, or its channel; else the loudest worn mic")
	f.StringVar(&own.way, "way", string(seat.Compiled), "how the stacks are fed, as a `WAY`: "+wayNames())
	f.StringVar(&own.sound, "sound", ears.DryNames()[0], "what is played: "+strings.Join(ears.DryNames(), ", ")+
		", or a dry WAV `FILE`")
	f.StringVar(&own.against, "against", "", "after it another `SEAT` or way, to compare")
	f.BoolVar(&own.json, "json", false, "print JSON")
	c.RegisterFlagCompletionFunc("way", cobra.FixedCompletions(ways, cobra.ShellCompDirectiveNoFileComp))
	return c
}

// render is the sound of what is heard, one after the other.
func render(dry []float64, heard []*seat.Heard) *ears.Rendering {
	r := ears.Render(dry, ears.Rate, arrivals(heard[0]))
	for _, h := range heard[1:] {
		r = r.Then(ears.Render(dry, ears.Rate, arrivals(h)))
	}
	return r
}

func (f *listenFlags) write(r *ears.Rendering) error {
	file := wave.NewStereo(ears.Rate, len(r.Left))
	file.Add(r.Left, r.Right)
	return verb.Outside(publish.Files(filepath.Dir(f.out), []publish.OutputFile{{Name: filepath.Base(f.out),
		Data: file.Bytes()}}))
}

// print says what is heard, and what was written of it; r is nil for nothing.
func (f *listenFlags) print(c *cobra.Command, heard []*seat.Heard, r *ears.Rendering) error {
	if f.json {
		if err := verb.WriteJSON(c, heard); err != nil {
			return err
		}
	}
	for i, h := range heard {
		switch {
		case f.json:
			continue
		case i > 0:
			fmt.Fprintln(c.OutOrStdout())
		}
		List(c.OutOrStdout(), h)
	}
	if r == nil {
		return nil
	}
	down := ""
	if r.DownDB < 0 {
		down = fmt.Sprintf(", turned down by %.1f dB so that no peak is over %d dB", -r.DownDB, ears.PeakDB)
	}
	verb.Note(c, "%s: %.2f s%s, for headphones; start low", f.out, float64(len(r.Left))/ears.Rate, down)
	return nil
}

// ways are the ways, by their names.
var ways = []string{string(seat.Compiled), string(seat.Zones), string(seat.Stereo), string(seat.NoDelay)}

func wayNames() string { return strings.Join(ways[:len(ways)-1], ", ") + " or " + ways[len(ways)-1] }

// check looks at the flags before the show is read.
func (f *listenFlags) check(c *cobra.Command) error {
	switch {
	case f.seat == "":
		return verb.Usage("listen needs a seat: --seat 12-66 for row 12, seat 66, or --seat box")
	case !slices.Contains(ways, f.way):
		return verb.Wrong("no way %q; %s", f.way, source.DidYouMean(f.way, ways, "it is "+wayNames()))
	case f.sound == "":
		return verb.Wrong("--sound names nothing; it is %s, or a WAV file", strings.Join(ears.DryNames(), ", "))
	case f.out == "" && c.Flags().Changed("output"):
		return verb.Wrong("-o names no file; write -o seat.wav")
	case f.out == "" && c.Flags().Changed("sound"):
		return verb.Usage("--sound is for a file: write -o seat.wav too")
	case f.out == "":
		return nil
	case !strings.EqualFold(filepath.Ext(f.out), ".wav"): // a slip would write over another file
		return verb.Wrong("-o %s does not end in .wav; name a file such as seat.wav", f.out)
	}
	return verb.Outside(audio.CheckOutput(f.out, f.sound))
}

// mostOwnS is how long a user's sound may be.
const mostOwnS = 60

// dry is the sound that is played.
func (f *listenFlags) dry(c *cobra.Command) ([]float64, error) {
	if samples, ok := ears.Dry(f.sound, ears.Rate); ok {
		return samples, nil
	}
	if _, err := os.Stat(f.sound); err != nil && !strings.Contains(f.sound, ".") {
		return nil, verb.Wrong("no sound %q; %s", f.sound, source.DidYouMean(f.sound, ears.DryNames(),
			"it is "+strings.Join(ears.DryNames(), ", ")+", or a WAV file"))
	}
	own, note, err := audio.ReadSound(f.sound)
	if os.IsNotExist(err) {
		return nil, verb.Outside(fmt.Errorf("--sound: there is no file %s; name a WAV file, or write %s", f.sound,
			strings.Join(ears.DryNames(), ", ")))
	}
	if err != nil {
		return nil, verb.Outside(err)
	}
	if s := len(own.Samples) / own.Rate; s >= mostOwnS {
		return nil, verb.Wrong("%s is %d s long; listen takes less than %d s: cut it", f.sound, s, mostOwnS)
	}
	if !slices.ContainsFunc(own.Samples, func(x float64) bool { return x != 0 }) {
		return nil, verb.Wrong("%s has only silence; record something", f.sound)
	}
	if note != "" {
		verb.Note(c, "%s", note)
	}
	return ears.Own(own.Samples, own.Rate), nil
}

// hear finds the cue, the seat and the mic, and what is heard there; after it what it is to be compared with.
func (f *listenFlags) hear(s *show.Loaded, id string) ([]*seat.Heard, error) {
	ids := verb.CueIDs(s.Show)
	i := slices.Index(ids, id)
	if i < 0 {
		return nil, verb.Wrong("no cue %q; %s", id, source.DidYouMean(id, ids, source.OneOfOr(ids, cue.NoCues)))
	}
	q := seat.Question{Mic: f.player, At: s.Cues[i].At, Way: seat.Way(f.way)}
	var err error
	if q.Seat, err = seatname.Of(s.Rig).Find(f.seat); err != nil {
		return nil, verb.Wrong("--seat: %w", err)
	}
	var p source.Problems // without the levels, the player is taken to be as loud as a stack, which is printed
	audience := seat.New(s.Result, s.Loudness(&p))
	if q.Mic == "" {
		if q.Mic = loudest(&s.Show.Cues[i]); q.Mic == "" {
			return nil, verb.Wrong("no mic is open in cue %s; name one with --player", id)
		}
	}
	if channel, ok := number(q.Mic); ok && !slices.Contains(s.Lines.MicNames(), q.Mic) {
		if q.Mic, err = audience.MicOf(channel, q.At); err != nil {
			return nil, verb.Wrong("--player: %w", err)
		}
	}
	questions := []seat.Question{q}
	if f.against != "" {
		if slices.Contains(ways, f.against) {
			q.Way = seat.Way(f.against)
		} else if q.Seat, err = seatname.Of(s.Rig).Find(f.against); err != nil {
			return nil, verb.Wrong("--against: %w; or write a way: %s", err, wayNames())
		}
		questions = append(questions, q)
	}
	var heard []*seat.Heard
	for _, q := range questions {
		h, err := audience.Hear(q)
		if err != nil {
			return nil, verb.With(verb.ExitUsage, err)
		}
		heard = append(heard, h)
	}
	return heard, nil
}

// loudest is the open worn mic with the highest level, the lowest channel of equal ones; without one a fixed mic; "" if
// none is open.
func loudest(s *cue.Snapshot) (name string) {
	for _, kind := range []string{cue.Worn, cue.Fixed} {
		best := cue.Silent
		for i := range s.Channels {
			if c := &s.Channels[i]; c.Open && c.Kind == kind && c.LevelDB > best {
				best, name = c.LevelDB, c.Player
			}
		}
		if name != "" {
			return name
		}
	}
	return ""
}
