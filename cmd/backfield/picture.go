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

// pictureFlags are what the command line says about the pictures.
type pictureFlags struct {
	show  verb.ShowFlags
	to    string // empty for stdout
	width int    // of a PNG, in pixels
	look  picture.Look
}

func pictureCommand() *cobra.Command {
	var flags pictureFlags
	c := &cobra.Command{
		Use:   "picture SHOW CUE",
		Short: "draw the field at one cue, as SVG or PNG",
		Long: `Draws the field at one cue, seen from the press box: where each player is, who is open in
which role and at which level, where each open mic will seem to come from, and who walks where before
the next snapshot. Without -o the picture goes to stdout as SVG. FILE ends in .svg or .png. CUE may be
"all" if FILE has {cue} in it: -o "notes/cue {cue}.png".
Exit code 0: drawn, 1: the show has errors, 2: no such cue, 3: a file could not be read or written.`,
		Args: verb.Exactly(2, "SHOW and CUE"),
		RunE: func(c *cobra.Command, args []string) error { return flags.run(c, args[0], args[1]) },
	}
	flags.show.Add(c)
	c.Flags().StringVarP(&flags.to, "out", "o", "", "write to `FILE`, .svg or .png; {cue} in its name becomes the "+
		"cue's id")
	c.Flags().IntVar(&flags.width, "width", usualWidthPx, "how wide a .png is, in `PIXELS`")
	c.Flags().BoolVar(&flags.look.Night, "dark", false, "draw light on dark, for a screen at night")
	return c
}

func (x *pictureFlags) run(c *cobra.Command, path, id string) error {
	format, err := x.format(c)
	if err != nil {
		return err
	}
	s, _, err := x.show.Compiled(c, show.Disk{}, path)
	if err != nil {
		return err
	}
	ids := []string{id}
	if _, named := s.Show.Find(id); id == "all" && !named {
		if ids = verb.CueIDs(s.Show); !strings.Contains(filepath.Base(x.to), "{cue}") {
			return verb.Wrong("each cue needs its own file: put {cue} in the name after -o, " +
				`such as -o "notes/cue {cue}.png"`)
		}
		whole := picture.Whole(s) // one frame for all, so that you can page through them
		x.look.Frame = &whole
	}
	files, err := x.draw(c, s, ids, format)
	if err != nil {
		return err
	}
	if x.to == "" {
		_, err := visible.Raw(c.OutOrStdout()).Write(files[0].Data) // a picture is no text
		return verb.Outside(err)
	}
	if err := distinct(files); err != nil {
		return err
	}
	if err := publish.Files(filepath.Dir(x.to), files); err != nil {
		return verb.Outside(err)
	}
	fmt.Fprintf(c.ErrOrStderr(), "%s: %s\n", x.to, verb.Plural(len(files), "picture"))
	return nil
}

// format is ".svg" or ".png". It also checks the flags that go with one of them only.
func (x *pictureFlags) format(c *cobra.Command) (string, error) {
	format := ".svg"
	if c.Flags().Changed("out") {
		if format = strings.ToLower(filepath.Ext(x.to)); format != ".svg" && format != ".png" {
			return "", verb.Wrong("-o %s: name a file that ends in .svg or .png", x.to)
		}
	}
	if c.Flags().Changed("width") && format != ".png" {
		return "", verb.Usage("--width is for a .png; an .svg fits any size")
	}
	if x.width < leastWidthPx || x.width > mostWidthPx {
		return "", verb.Wrong("--width %d is out of range (%d to %d pixels)", x.width, leastWidthPx, mostWidthPx)
	}
	return format, nil
}

// draw makes the pictures of the cues.
func (x *pictureFlags) draw(
	c *cobra.Command, s *show.Loaded, ids []string, format string,
) (files []publish.OutputFile, err error) {
	bar := verb.NewProgressBar(c, "drawing")
	defer bar.End() // so that an error starts on its own line
	for i, id := range ids {
		bar.Show(float64(i) / float64(len(ids)))
		d, err := picture.Cue(s, id, x.look)
		if err != nil {
			return nil, verb.Wrong("%w", err)
		}
		var b bytes.Buffer
		if format == ".png" {
			err = d.PNG(&b, x.width)
		} else {
			err = d.SVG(&b)
		}
		if err != nil {
			return nil, verb.Outside(err)
		}
		name := strings.ReplaceAll(filepath.Base(x.to), "{cue}", publish.SafeName(id))
		files = append(files, publish.OutputFile{Name: name, Data: b.Bytes()})
	}
	return files, nil
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
