// Package structure holds the whole tree to its rules: who may import whom, how long files, packages and lines may be,
// and that what the pages name is there. It has tests alone, so that they run without building the command.
package structure

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"backfield/cmd/backfield/help"
)

// mayImport is what each package may import of the project, by prefix of its path. Data flows one way: layout,
// cue, osc, cmd.
var mayImport = []struct{ pkg, pattern string }{
	{"layout", `^$`},
	{"layout/visible", `^$`},
	{"layout/source", `^layout/visible$`},
	{"layout/unit", `^$`},
	{"layout/osctype", `^$`},
	{"layout/slip", `^layout/source$`},
	{"layout/separator", `^$`},
	{"layout/csvtext", `^layout/(separator|source)$`},
	{"layout/table", `^layout/(csvtext|slip|source|unit)$`},
	{"layout/workbook", `^layout/source$`},
	{"layout/field", `^layout(/(source|unit))?$`},
	{"layout/sound", `^layout$`},
	{"layout/path", `^$`},
	{"layout/stands", `^layout(/(source|table|sound))?$`},
	{"layout/level", `^layout(/(sound|stands))?$`},
	{"layout/level/advice", `^layout/level$`},
	{"layout/level/plain", `^layout$`},
	{"layout/setlist", `^layout/(source|table)$`},
	{"layout/rows", `^layout/(source|table|unit|field|setlist)$`},
	{"layout/drill", `^layout(/(source|table|unit|field|levelkeys|rows|setlist))?$`},
	{"layout/drill/guess", `^layout/(source|table|field|drill|rows)$`},
	{"layout/levelkeys", `^layout/(level|source|table)$`},
	{"layout/rig", `^layout(/(source|table|unit|field|level|levelkeys|sound|stands))?$`},
	{"layout/seatname", `^layout(/(rig|source|stands))?$`},
	{"cue", `^layout/osctype$`},
	{"cue/clock", `^layout/source$`},
	{"cue/notes", `^(layout/(level|source)|cue/clock)$`},
	{"cue/repeats", `^(layout/source|cue/notes)$`},
	{"cue/music", `^(layout/(source|table)|cue/(clock|notes|repeats|score))$`},
	{"cue/roster", `^layout/(source|stands|table|unit)$`},
	{"cue/score", `^(layout/(level|levelkeys|rows|osctype|source|stands|table|unit)|cue/clock)$`},
	{"cue/timeline", `^(layout(/.*)?|cue|cue/(clock|roster|score))$`},
	{"cue/tonight", `^(layout/(drill|rig|source|table)|cue/(clock|roster|score|timeline))$`},
	{"cue/parts", `^(layout/(source|table)|cue/(clock|roster|score|timeline))$`},
	{"cue/work", `^(layout(/.*)?|cue|cue/(clock|parts|roster|score|timeline))$`},
	{"cue/rules", `^(layout(/.*)?|cue|cue/(clock|parts|score|timeline|work))$`},
	{"cue/compile", `^(layout(/.*)?|cue|cue/(clock|parts|score|timeline|work|rules))$`},
	{"cue/noeffect", `^(layout/(rig|source|table)|cue|cue/(compile|rules|score|timeline|work))$`},
	{"cue/readings", `^layout/(level|source|table)$`},
	{"cue/balance", `^(layout(/.*)?|cue|cue/(clock|readings|roster|score|timeline|work))$`},
	{"cue/seat", `^(layout(/.*)?|cue|cue/(balance|clock|compile|work))$`},
	{"cue/heard", `^(cue|cue/(balance|clock|timeline|work)|layout(/(level(/advice)?|source|table))?)$`},
	{"cue/propose", `^(cue/(balance|keep|score|work)|layout/level(/advice)?)$`},
	{"cue/suggest", `^(layout/(source|table)|cue|cue/(clock|compile|parts|score|timeline))$`},
	{"cue/tune", `^(layout(/.*)?|cue|cue/(compile|work))$`},
	{"cue/blocks", `^(cue|cue/(compile|work)|layout/(field|rig|stands|unit))$`},
	{"cue/plain", `^layout(/sound)?$`},
	{"cue/step", `^cue$`},
	{"cue/diff", `^(cue|cue/step|layout/(source|unit))$`},
	{"cue/edits", `^(layout(/(drill|level|rig|source|stands|table|unit))?|cue|cue/(clock|roster|score|timeline))$`},
	{"cue/causes", `^(cue|cue/(diff|edits|timeline)|layout/source)$`},
	{"cue/keep", `^(cue/roster|layout/(source|table|unit))$`},
	{"cue/crew", `^layout/source$`},
	{"cue/sheet", `^(cue|cue/step|layout/source)$`},
	{"osc", `^layout/osctype$`},
	{"osc/scale", `^(osc|layout/(osctype|source|table))$`},
	{"osc/form", `^(osc|layout/(osctype|source|table))$`},
	{"osc/mixer", `^(cue|osc|osc/(form|scale)|layout/(osctype|source|table|unit))$`},
	{"osc/wire", `^(osc|layout/osctype)$`},
	{"osc/virtual", `^(cue|osc|osc/(mixer|wire))$`},
	{"osc/audible", `^layout/sound$`},
	{"osc/wave", `^$`},
	{"osc/ears", `^(layout/sound|osc/audible)$`},
	{"osc/hold", `^(cue|osc|osc/mixer)$`},
	{"osc/outside", `^(cue|osc|osc/mixer)$`},
	{"osc/sent", `^osc$`},
	{"osc/fifo", `^$`},
	{"osc/lag", `^$`},
	{"osc/route", `^cue$`},
	{"osc/midi", `^$`},
	{"osc/timecode", `^$`},
	{"osc/beats", `^osc/midi$`},
	{"osc/chase", `^$`},
	{"osc/feed", `^(cue|osc|osc/(fifo|lag|mixer|hold|outside|sent))$`},
	{"osc/journal", `^cue$`},
	{"osc/accept", `^(cue|osc/(journal|mixer))$`},
	{"osc/override", `^(cue|osc/(journal|mixer))$`},
	{"osc/tempo", `^osc/journal$`},
	{"osc/typed", `^$`},
	{"osc/store", `^(cue|layout/source|osc|osc/(mixer|sent|wire))$`},
	{"osc/standby", `^(cue|osc|osc/(journal|mixer))$`},
	{"osc/standby/link", `^osc/standby$`},
	{"osc/run", `^(layout/source|cue|cue/step|osc|osc/(accept|mixer|feed|hold|journal|override|route|tempo|typed))$`},
	{"osc/follow", `^osc/(chase|journal|run)$`},
	{"osc/presses", `^(layout/(source|table)|osc/(midi|run|timecode))$`},
	{"osc/linecheck", `^layout/source$`},
	{"osc/ringing", `^(layout/level|osc/run)$`},
	{"osc/glance", `^(cue(/step)?|layout/source|osc/(feed|run))$`},
	{"osc/run/simulate", `^osc(/(feed|run|virtual|wire))?$`},
	{"osc/live", `^(cue|osc(/(follow|glance|journal|mixer|feed|run|standby|wire))?)$`},
	{"osc/trigger", `^osc(/(beats|midi|presses|run|timecode|wire))?$`},
	{"osc/discover", `^$`},
	{"osc/ping", `^(cue|osc|osc/(mixer|wire))$`},
	{"osc/waiting", `^$`},
	{"cmd/backfield/show", `^(layout|cue|osc)(/.*)?$`},
	{"cmd/backfield/explain", `^(layout(/.*)?|cue(/(balance|timeline|work))?|cmd/backfield/(compiled|show))$`},
	{"cmd/backfield/loudness", `^(layout/level(/advice)?|cue(/(balance|keep|propose))?|cmd/backfield/show)$`},
	{"cmd/backfield/picture", `^(layout(/.*)?|cue(/(balance|clock|roster|score|compile|step))?|cmd/backfield/(letters|show))$`},
	{"cmd/backfield/letters", `^$`},
	{"cmd/backfield/paper", `^(cue|cue/(balance|clock|crew|parts|rules|sheet|step)|cmd/backfield/(chromium|letters|linechecking|picture|runsheet|show)|layout(/(source|table|unit))?|osc/linecheck)$`},
	{"cmd/backfield/runsheet", `^(cue|cue/(balance|clock|sheet)|layout|layout/(level|source|unit)|cmd/backfield/(letters|picture|show))$`},
	{"cmd/backfield/compiled", `^(cue|cue/compile|layout/(source|unit)|osc/mixer|cmd/backfield/(problemlist|publish|show))$`},
	{"cmd/backfield/audio", `^(cue|cmd/backfield/publish|layout/(sound|source)|osc|osc/(audible|hold|mixer|virtual|wave))$`},
	{"cmd/backfield/help", `^(cmd/backfield/paper|cue/(rules|score)|layout/stands)$`}, // whose lists are in pages
	{"cmd/backfield/importer", `^(layout(/(drill|drill/guess|field|rows|source|table|unit))?|cmd/backfield/publish)$`},
	{"cmd/backfield/journalfile", `^(layout/source|osc/journal)$`},
	{"cmd/backfield/keeping", `^(cue/keep|layout/source|cmd/backfield/(problemlist|publish|show|term|verb))$`},
	{"cmd/backfield/leveling", `^(cue|cue/(balance|keep|propose)|layout/source|cmd/backfield/(keeping|loudness|show|verb))$`},
	{"cmd/backfield/hearing", `^(cue|cue/seat|layout/(seatname|source)|osc/(ears|wave)|cmd/backfield/(audio|publish|show|verb))$`},
	{"cmd/backfield/liverun", `^(layout/(source|visible)|osc/(follow|journal|live|presses|ringing|run|standby(/link)?|trigger|wire)|cmd/backfield/(console|journalfile|page|remote|show|term))$`},
	{"cmd/backfield/checkpage", `^(cmd/backfield/(linechecking|remote)|osc/linecheck)$`},
	{"cmd/backfield/checkscreen", `^(cmd/backfield/linechecking|layout/visible|osc/linecheck)$`},
	{"cmd/backfield/linechecking", `^(cue(/(keep|timeline))?|layout/(source|table)|osc/(feed|glance|linecheck|live|mixer|run)` +
		`|cmd/backfield/(journalfile|publish|show|term))$`},
	{"cmd/backfield/machines", `^(cue|osc|layout/(source|visible)|osc/(mixer|discover|ping|wire))$`},
	{"cmd/backfield/simulated", `^(cmd/backfield/term|layout/source|osc|osc/(mixer|virtual|wire))$`},
	{"cmd/backfield/mixerverbs", `^(cue|cue/(keep|step)|layout/(sound|source|table|visible)|osc/(audible|mixer|discover|journal|ping|standby|store|wire)` +
		`|cmd/backfield/(audio|checkpage|checkscreen|compiled|console|explain|journalfile|keeping|linechecking|liverun|machines|problemlist|publish|remote|restart|show|simulated|term|verb))$`},
	{"cmd/backfield/learning", `^(cue/keep|layout/(source|table)|osc/(beats|midi|presses|run|timecode)` +
		`|cmd/backfield/(liverun|publish|show|term|verb))$`},
	{"cmd/backfield/restart", `^(cue|layout/source|osc|osc/(journal|mixer|ping|route|run|wire)|cmd/backfield/journalfile)$`},
	{"cmd/backfield/nights", `^(cue|layout/(source|unit))$`},
	{"cmd/backfield/problemlist", `^layout/source$`},
	{"cmd/backfield/publish", `^layout/visible$`},
	{"cmd/backfield/schemas", `^(cue|cue/(score|tonight)|layout/(rig|sound|table)|osc/(mixer|presses)|cmd/backfield/help)$`},
	{"cmd/backfield/shellquote", `^$`},
	{"cmd/backfield/starter", `^(layout(/(field|table|unit))?|cmd/backfield/publish)$`},
	{"cmd/backfield/term", `^layout/visible$`},
	{"cmd/backfield/musicverbs",
		`^(cue(/(keep|parts|suggest))?|layout/source|cmd/backfield/(keeping|problemlist|show|verb))$`},
	{"cmd/backfield/verb", `^(cue|layout/(source|unit|visible)|osc/(mixer|wire)|cmd/backfield/(problemlist|show|term))$`},
	{"cmd/backfield/asking", `^(cue/(timeline|tonight)|layout/source|cmd/backfield/(publish|show|term|verb))$`},
	{"cmd/backfield/watch", `^$`},
	{"cmd/backfield/comparing", `^(cue|cue/(causes|compile|edits|timeline|tonight|work)|layout/source|cmd/backfield/(problemlist|show|verb))$`},
	{"cmd/backfield/console", `^(osc/(feed|glance|run)|layout/(source|visible))$`},
	{"cmd/backfield/cuewords", `^(cmd/backfield/picture|cue|cue/(step|timeline)|layout/source)$`},
	{"cmd/backfield/page", `^(cmd/backfield/(cuewords|loudness|picture|show)|cue|cue/(balance|blocks|causes|clock|compile|diff|score|seat|sheet|step|timeline|work)|layout|layout/(drill|field|level(/advice)?|rig|seatname|source|unit))$`},
	{"cmd/backfield/chromium", `^$`},
	{"cmd/backfield/browser", `^cmd/backfield/chromium$`},
	{"cmd/backfield/firefox", `^$`},
	{"cmd/backfield/remote", `^osc/(feed|glance|run)$`},
	{"cmd/backfield", `.*`},
}

// onlyIn says which packages alone may import a foreign package.
var onlyIn = map[string]string{
	"github.com/BurntSushi/toml":            `^layout/table$`,
	"encoding/csv":                          `^(layout/csvtext|cmd/backfield/publish)$`, // reads and writes
	"github.com/hypebeast/go-osc/osc":       `^osc/wire$`,
	"net":                                   `^(osc/(wire|discover|standby/link)|cmd/backfield(/(firefox|page|remote))?)$`, // cmd: to listen for a page's readers
	"net/http":                              `^cmd/backfield/(checkpage|liverun|page|remote)$`,
	"testing":                               `^(cmd/backfield/(browser|firefox)|osc/waiting)$`,
	"github.com/chromedp/chromedp":          `^cmd/backfield/browser$`,
	"github.com/chromedp/cdproto/cdp":       `^cmd/backfield/browser$`,
	"github.com/chromedp/cdproto/emulation": `^cmd/backfield/browser$`,
	"github.com/chromedp/cdproto/log":       `^cmd/backfield/browser$`,
	"github.com/chromedp/cdproto/network":   `^cmd/backfield/browser$`,
	"github.com/chromedp/cdproto/runtime":   `^cmd/backfield/browser$`,
	"github.com/fsnotify/fsnotify":          `^cmd/backfield/watch$`,
	"github.com/spf13/cobra":                `^cmd/backfield(/(asking|comparing|keeping|learning|leveling|hearing|mixerverbs|musicverbs|verb))?$`,
	"charm.land/bubbletea/v2":               `^cmd/backfield/(checkscreen|console)$`,
	"github.com/charmbracelet/x/ansi":       `^cmd/backfield/(checkscreen|console)$`, // the cells that a text takes
	"github.com/charmbracelet/x/term":       `^cmd/backfield/term$`,
	"github.com/agnivade/levenshtein":       `^layout/source$`,
	"os":                                    `^(cmd/.*|osc/(wire|discover))$`, // osc/wire: its errors
	"os/exec":                               `^cmd/backfield/(chromium|firefox|show)$`,
	"time":                                  `^(osc/(accept|chase|follow|lag|linecheck|mixer|virtual|wire|live|trigger|discover|ping|hold|feed|outside|sent|journal|standby(/link)?|store|run(/simulate)?)|cmd/.*)$`, // osc/mixer, osc/virtual, osc/run: how long, and a time that is passed in
	"math/rand":                             `^$`,
	"math/rand/v2":                          `^osc/virtual$`, // seeded
	"github.com/rogpeppe/go-internal":       `^$`,

	"golang.org/x/image/vector":                 `^cmd/backfield/picture$`,
	"golang.org/x/image/font":                   `^cmd/backfield/letters$`,
	"golang.org/x/image/font/sfnt":              `^cmd/backfield/letters$`,
	"golang.org/x/image/font/gofont/goregular":  `^cmd/backfield/letters$`,
	"golang.org/x/image/font/gofont/gobold":     `^cmd/backfield/letters$`,
	"golang.org/x/image/math/fixed":             `^cmd/backfield/letters$`,
	"github.com/go-fonts/dejavu/dejavusans":     `^cmd/backfield/letters$`,
	"github.com/go-fonts/dejavu/dejavusansbold": `^cmd/backfield/letters$`,
	"golang.org/x/text/unicode/norm":            `^cmd/backfield/letters$`,
	"rsc.io/qr":                                 `^cmd/backfield/remote$`,
	"github.com/xuri/excelize/v2":               `^layout/workbook$`,
	"gitlab.com/gomidi/midi/v2/smf":             `^cue/music$`,
	"github.com/spf13/pflag":                    `^cmd/backfield(/(verb|mixerverbs))?$`, // cobra's flags: manual pages, and what is mistyped
	"github.com/miekg/dns":                      `^osc/discover$`,
	"golang.org/x/net/ipv4":                     `^osc/(discover|wire)$`, // over which network a question goes; many datagrams in one call
	"golang.org/x/net/ipv6":                     `^osc/discover$`,
	"golang.org/x/sys/windows":                  `^cmd/backfield/(term|journalfile)$`, // the console, and locks
	"golang.org/x/sys/unix":                     `^osc/wire$`,                         // timerfd
}

func TestImports(t *testing.T) {
	t.Parallel()
	packages := map[string]string{}
	for _, r := range mayImport {
		packages[r.pkg] = r.pattern
	}
	seen := map[string]bool{}
	walkGo(t, func(path string, test bool) {
		if test {
			return
		}
		pkg := filepath.ToSlash(filepath.Dir(path))
		seen[pkg] = true
		pattern, known := packages[pkg]
		if !known {
			t.Errorf("%s: the package %s is not in the table of packages", path, pkg)
			return
		}
		for _, spec := range imports(t, path) {
			if ours, ok := strings.CutPrefix(spec, "backfield/"); ok {
				if !regexp.MustCompile(pattern).MatchString(ours) {
					t.Errorf("%s: %s may not import %s", path, pkg, ours)
				}
				continue
			}
			if where, limited := onlyIn[spec]; limited && !regexp.MustCompile(where).MatchString(pkg) {
				t.Errorf("%s: %s may not import %s", path, pkg, spec)
			}
			if strings.Contains(spec, ".") {
				if _, listed := onlyIn[spec]; !listed {
					t.Errorf("%s: the foreign package %s has no package of its own", path, spec)
				}
			}
		}
	})
	for pkg := range packages {
		if !seen[pkg] {
			t.Errorf("the table names the package %s, which is not there", pkg)
		}
	}
}

// TestMapOfDevelopers holds DEVELOPERS.md to the tree: each file and folder that it names in code quotes and
// that has a slash in it must exist.
func TestMapOfDevelopers(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile("../../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`((?:layout|cue|osc|cmd|examples|testdata|\\.ci)/[^` ]*)`").FindAllStringSubmatch(string(text), -1)
	if len(named) < 20 {
		t.Fatalf("DEVELOPERS.md names %d places; is the pattern right?", len(named))
	}
	for _, m := range named {
		if matches, _ := filepath.Glob("../../../" + strings.TrimSuffix(m[1], "/")); len(matches) == 0 {
			t.Errorf("DEVELOPERS.md names %s, which is not there", m[1])
		}
	}
}

// walkGo calls do for every Go file of the project, with its path from the top.
func walkGo(t *testing.T, do func(path string, test bool)) {
	t.Helper()
	err := fs.WalkDir(os.DirFS("../../.."), ".", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "testdata" || strings.HasPrefix(d.Name(), ".") && path != "."):
			return fs.SkipDir
		case strings.HasSuffix(path, ".go"):
			do(path, strings.HasSuffix(path, "_test.go"))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func imports(t *testing.T, path string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), filepath.Join("../../..", path), nil, parser.ImportsOnly)
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, i := range f.Imports {
		spec, _ := strconv.Unquote(i.Path.Value)
		list = append(list, spec)
	}
	return list
}

// TestThreatsHaveTests holds the page of threats to the tests that it names.
func TestThreatsHaveTests(t *testing.T) {
	t.Parallel()
	tests := map[string]bool{}
	defined := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`)
	walkGo(t, func(path string, test bool) {
		if !test {
			return
		}
		text, err := os.ReadFile(filepath.Join("../../..", path))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range defined.FindAllStringSubmatch(string(text), -1) {
			tests[m[1]] = true
		}
	})
	page, err := help.Page("security")
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`((?:Test|Fuzz)\\w+)`").FindAllStringSubmatch(page, -1)
	for _, m := range named {
		if !tests[m[1]] {
			t.Errorf("the page names %s, which is not there", m[1])
		}
	}
	for _, point := range strings.Split(page, "\n- ")[1:] {
		point, _, _ = strings.Cut(point, "\n\n")
		if !strings.Contains(strings.Join(strings.Fields(point), " "), "Held by `") {
			t.Errorf("a point without its test: %s", point)
		}
	}
	if len(named) < 20 {
		t.Errorf("the page names %d tests; is the pattern right?", len(named))
	}
}
