package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/picture"
	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/layout/visible"
)

// How wide a PNG may be, in pixels. The usual width is 190 mm at 300 dots per inch.
const (
	leastWidthPx = 200
	usualWidthPx = 2244
	mostWidthPx  = 8000
)

func pictureCommand() *cobra.Command {
	var flags verb.ShowFlags
	var to string
	var width int
	var look picture.Look
	c := &cobra.Command{
		Use:   "picture SHOW CUE",
		Short: "draw the field at one cue, as SVG or PNG",
		Long: `Draws the field at one cue or waypoint, seen from the press box: where each player is, who is open in
which role and at which level, where each open mic will seem to come from, and who walks where before
the next snapshot. Without -o the picture goes to stdout as SVG. FILE ends in .svg or .png. CUE may be
"all" if FILE has {cue} in it: -o "notes/cue {cue}.png".
Exit code 0: drawn, 1: the show has errors, 2: no such cue, 3: a file could not be read or written.`,
		Args: verb.Exactly(2, "SHOW and CUE"),
		RunE: func(c *cobra.Command, args []string) error {
			format := ".svg"
			if c.Flags().Changed("out") {
				if format = strings.ToLower(filepath.Ext(to)); format != ".svg" && format != ".png" {
					return verb.Wrong("-o %s: name a file that ends in .svg or .png", to)
				}
			}
			if c.Flags().Changed("width") && format != ".png" {
				return verb.Usage("--width is for a .png; an .svg fits any size")
			}
			if width < leastWidthPx || width > mostWidthPx {
				return verb.Wrong("--width %d is out of range (%d to %d pixels)", width, leastWidthPx, mostWidthPx)
			}
			s, _, err := flags.Compiled(c, show.Disk{}, args[0])
			if err != nil {
				return err
			}
			ids := args[1:]
			if _, named := s.Show.Find(args[1]); args[1] == "all" && !named {
				if ids = verb.CueIDs(s.Show); !strings.Contains(filepath.Base(to), "{cue}") {
					return verb.Wrong("each cue needs its own file: put {cue} in the name after -o, " +
						`such as -o "notes/cue {cue}.png"`)
				}
				whole := picture.Whole(s) // one frame for all, so that you can page through them
				look.Frame = &whole
			}
			var files []publish.OutputFile
			bar := verb.NewProgressBar(c, "drawing")
			defer bar.End() // so that an error starts on its own line
			for i, id := range ids {
				bar.Show(float64(i) / float64(len(ids)))
				d, err := picture.Cue(s, id, look)
				if err != nil {
					return verb.Wrong("%w", err)
				}
				var b bytes.Buffer
				if format == ".png" {
					err = d.PNG(&b, width)
				} else {
					err = d.SVG(&b)
				}
				if err != nil {
					return verb.Outside(err)
				}
				name := strings.ReplaceAll(filepath.Base(to), "{cue}", fileName(id))
				files = append(files, publish.OutputFile{Name: name, Data: b.Bytes()})
			}
			bar.End()
			if to == "" {
				_, err := visible.Raw(c.OutOrStdout()).Write(files[0].Data) // a picture is no text
				return verb.Outside(err)
			}
			if err := distinct(files); err != nil {
				return err
			}
			if err := publish.Files(filepath.Dir(to), files); err != nil {
				return verb.Outside(err)
			}
			fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", to, verb.Plural(len(files), "picture"))
			return nil
		},
	}
	flags.Add(c)
	c.Flags().StringVarP(&to, "out", "o", "", "write to `FILE`, .svg or .png; {cue} in its name becomes the "+
		"cue's id")
	c.Flags().IntVar(&width, "width", usualWidthPx, "how wide a .png is, in `PIXELS`")
	c.Flags().BoolVar(&look.Night, "dark", false, "draw light on dark, for a screen at night")
	return c
}

// fileName makes a cue's id safe as part of a file name on any system.
func fileName(id string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`<>:"/\|?*`, r) {
			return '_'
		}
		return r
	}, id)
}

// distinct refuses pictures that would overwrite each other, also on systems that ignore case in file names.
func distinct(files []publish.OutputFile) error {
	seen := map[string]bool{}
	for _, f := range files {
		key := strings.ToLower(f.Name)
		if seen[key] {
			return verb.Wrong("two cues would be written to %s; draw one of them separately", f.Name)
		}
		seen[key] = true
	}
	return nil
}
