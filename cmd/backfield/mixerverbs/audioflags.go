package mixerverbs

import (
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"backfield/cmd/backfield/audio"
	"backfield/cmd/backfield/verb"
	"backfield/layout/sound"
	"backfield/osc/audible"
	"backfield/osc/mixer"
)

// audioFlags are the flags of the simulated mixer for its sound file.
type audioFlags struct {
	out, own string // file names
}

func (a *audioFlags) add(f *pflag.FlagSet) {
	f.StringVar(&a.out, "audio", "", "write what it does to a sound to this WAV `FILE` at the end")
	f.StringVar(&a.own, "sound", "", "put this WAV `FILE` on the channels instead of tones")
}

// args requires a MIXER.toml, except for a demonstration.
func (a *audioFlags) args(c *cobra.Command, args []string) error {
	if len(args) == 0 && a.out != "" {
		return nil
	}
	return verb.Exactly(1, "one MIXER.toml")(c, args)
}

// read checks the flags, and reads the user's own sound: nil for none.
func (a *audioFlags) read(c *cobra.Command, args []string) (*audible.SoundLoop, error) {
	changed := c.Flags().Changed
	switch {
	case a.out == "" && (changed("sound") || changed("audio")):
		return nil, verb.Usage("--sound is for --audio: write --audio out.wav too")
	case a.out == "":
		return nil, nil
	}
	if len(args) == 0 { // all other flags are about a mixer that runs
		var other string
		c.Flags().Visit(func(f *pflag.Flag) {
			if f.Name != "audio" && f.Name != "sound" && c.InheritedFlags().Lookup(f.Name) == nil {
				other = f.Name
			}
		})
		if other != "" {
			return nil, verb.Usage("--%s is for a mixer that runs: name a MIXER.toml, or leave the flag out",
				other)
		}
	}
	if !strings.EqualFold(filepath.Ext(a.out), ".wav") { // a slip would write over another file
		return nil, verb.Wrong("--audio %s does not end in .wav; name a file such as out.wav", a.out)
	}
	if err := audio.CheckOutput(a.out, a.own); err != nil {
		return nil, verb.Outside(err)
	}
	if !changed("sound") {
		return nil, nil
	}
	own, note, err := audio.ReadLoop(a.own)
	if err != nil {
		return nil, verb.Outside(err)
	}
	if note != "" {
		verb.Note(c, "%s", note)
	}
	return &own, nil
}

// record makes the recording for a run, nil if there is to be none.
func (a *audioFlags) record(d *mixer.Mixer, own *audible.SoundLoop) *audio.Recording {
	if a.out == "" {
		return nil
	}
	law, _ := sound.LawByName(d.PanLaw.Or("constant-power"))
	return audio.NewRecording(d, law, own)
}
