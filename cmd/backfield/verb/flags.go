package verb

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// ShowFlags are the flags of every command that reads a show.
type ShowFlags struct{ show.LoadOptions }

// Add adds the flags to a command.
func (f *ShowFlags) Add(c *cobra.Command) {
	c.Flags().StringVar(&f.Venue, "venue", "", "use this venue `FILE` with the rig, instead of the one in show.toml")
	c.Flags().StringVar(&f.Air, "air", "", "air `TEMPERATURE` of the night, such as \"88 F\" or \"31 C\", instead "+
		"of the rig's")
	c.Flags().StringVar(&f.Tonight, "tonight", "", "lay this `FILE` over the show for one night (backfield help "+
		"tonight); alone it is "+show.TonightFile+" next to the show")
	c.Flags().Lookup("tonight").NoOptDefVal = besideShow
}

// besideShow stands for a file next to the show's, where a flag has no value.
const besideShow = "*"

// WithNight joins the flag of a night to the file after it, which a flag that needs no value would leave alone.
func WithNight(args []string) []string {
	var list []string
	for i := 0; i < len(args); i++ {
		if args[i] == "--" {
			return append(list, args[i:]...)
		}
		if args[i] == "--tonight" && i+1 < len(args) && !strings.HasPrefix(args[i+1], "-") &&
			filepath.Ext(args[i+1]) == ".toml" && filepath.Base(args[i+1]) != filepath.Base(show.Path(here)) {
			list = append(list, args[i]+"="+args[i+1])
			i++
			continue
		}
		list = append(list, args[i])
	}
	return list
}

// resolve finds the files that flags name without saying where.
func (f *ShowFlags) resolve(arg string) {
	if f.Tonight == besideShow {
		f.Tonight = filepath.Join(filepath.Dir(show.Path(arg)), show.TonightFile)
	}
}

// Load reads and compiles the show that an argument names. Problems are returned, not printed.
func (f *ShowFlags) Load(rd show.Reader, arg string) (*show.Loaded, []source.Problem, error) {
	f.resolve(arg)
	if f.Air != "" {
		_, err := show.Air(f.Air)
		if doubt := (*unit.Doubt)(nil); errors.As(err, &doubt) {
			return nil, nil, Wrong("--air: %w", err)
		}
		if err != nil {
			return nil, nil, Wrong("--air: %w; write it as \"88 F\" or \"31 C\"", err)
		}
	}
	var p source.Problems
	s, err := show.Load(rd, show.Path(arg), f.LoadOptions, &p)
	if err != nil || p.Errors() > 0 { // only then can it be another file of a show
		if kind := show.KindOf(rd, show.Path(arg)); kind != "" && kind != "score" {
			return nil, nil, Wrong("%s is a %s, not a show; name show.toml or its folder", arg, kind)
		}
	}
	if err != nil {
		return s, nil, Outside(err)
	}
	return s, p.All(), nil
}

// Watched is Load with a progress bar. With --verbose it also lists the files that were read.
func (f *ShowFlags) Watched(c *cobra.Command, rd show.Reader, arg string) (*show.Loaded, []source.Problem, error) {
	bar, began := NewProgressBar(c, "compiling"), time.Now()
	f.Progress = bar.Show
	s, problems, err := f.Load(rd, arg)
	f.Progress = nil
	bar.End()
	if s != nil {
		for _, file := range s.Files {
			Detail(c, "read: %s", file)
		}
		Detail(c, "read and compiled in %.2f s", time.Since(began).Seconds())
	}
	return s, problems, err
}

// Faultless is Load for commands that need a show without errors. With errors it prints all problems and ends the
// command.
func (f *ShowFlags) Faultless(c *cobra.Command, rd show.Reader, arg string) (*show.Loaded, []source.Problem, error) {
	s, problems, err := f.Watched(c, rd, arg)
	if err != nil {
		return nil, nil, err
	}
	if s.Result.Show == nil {
		PrintProblems(c, c.ErrOrStderr(), problems)
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s; nothing was done\n", show.Path(arg), problemlist.Tally(problems))
		return nil, nil, Exit(ExitProblems)
	}
	return s, problems, nil
}

// Compiled is Faultless for commands that are not about problems: it says only how many warnings there are.
func (f *ShowFlags) Compiled(c *cobra.Command, rd show.Reader, arg string) (*show.Loaded, []source.Problem, error) {
	s, problems, err := f.Faultless(c, rd, arg)
	f.Mention(c, problems, arg)
	return s, problems, err
}

// Mention says in one line how many warnings there are, and what lists them. Check may list more, about levels.
func (f *ShowFlags) Mention(c *cobra.Command, warnings []source.Problem, arg string) {
	tally := problemlist.Tally(warnings)
	if !f.Levels {
		tally += ", levels not checked"
	}
	switch {
	case len(warnings) == 0:
	case f.Bare: // for which check has no flag
		Note(c, "check: %s", tally)
	default:
		Note(c, "check: %s (see %s)", tally, f.CheckLine(arg))
	}
}

// CheckLine is the command line that lists the problems of the show with these flags.
func (f *ShowFlags) CheckLine(arg string) string {
	words := []string{"backfield", "check"}
	if arg != here {
		words = append(words, arg)
	}
	if f.Venue != "" {
		words = append(words, "--venue", f.Venue)
	}
	if f.Air != "" {
		words = append(words, "--air", f.Air)
	}
	if f.Tonight != "" {
		words = append(words, "--tonight", f.Tonight)
	}
	for i, w := range words {
		words[i] = Quoted(w)
	}
	return strings.Join(words, " ")
}

// Named are the files that the command line names.
func (f *ShowFlags) Named(arg string) []string {
	files := []string{show.Path(arg)}
	if f.Venue != "" {
		files = append(files, f.Venue)
	}
	if f.resolve(arg); f.Tonight != "" {
		files = append(files, f.Tonight)
	}
	return files
}

// Quoted is an argument as it is typed in a shell: in quotes if it needs them.
func Quoted(word string) string {
	if word == "" || strings.ContainsAny(word, " \t\"'$&;()*?<>|") {
		return strconv.Quote(word)
	}
	return word
}
