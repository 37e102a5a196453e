package table

import (
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/BurntSushi/toml"

	"backfield/layout/source"
)

// suite is the published set of TOML files that this package reads along with the library.
const suite = "../../testdata/toml-test"

// later lists the files that TOML 1.0 forbids and TOML 1.1, which the library reads, allows.
var later = []string{
	"datetime/no-secs", "local-datetime/no-secs", "local-time/no-secs", "string/basic-byte-escapes",
	"inline-table/linebreak-01", "inline-table/linebreak-02", "inline-table/linebreak-03", "inline-table/linebreak-04",
	"inline-table/trailing-comma",
}

// merged lists the files that TOML forbids because they add to a table that was closed, or name it twice,
// and the one with a minute 60 in a time zone. The library accepts them; no value is lost by it, so they
// are here instead of being refused.
var merged = []string{
	"array/extend-defined-aot", "datetime/offset-overflow-minute", "inline-table/duplicate-key-03",
	"inline-table/overwrite-02", "inline-table/overwrite-08", "spec-1.0.0/inline-table-2-0", "spec-1.0.0/table-9-1",
	"spec-1.1.0/common-46-1", "spec-1.1.0/common-49-0", "table/append-with-dotted-keys-01",
	"table/append-with-dotted-keys-02", "table/append-with-dotted-keys-03", "table/duplicate-key-04",
	"table/duplicate-key-05", "table/redefine-02", "table/redefine-03",
}

func suiteFiles(t testing.TB, kind string, least int) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(filepath.Join(suite, kind), func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".toml") {
			var b []byte
			b, err = os.ReadFile(path)
			name, _ := filepath.Rel(suite, path)
			files[filepath.ToSlash(name)] = string(b)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < least {
		t.Fatalf("%d %s files, want at least %d", len(files), kind, least)
	}
	return files
}

func TestValidSuite(t *testing.T) {
	leaves := 0
	for name, text := range suiteFiles(t, "valid", 262) {
		t.Run(name, func(t *testing.T) {
			f, err := source.Open(name, []byte(text), TOMLLimit)
			if err != nil {
				t.Fatal(err)
			}
			var tree map[string]any
			if _, err := toml.Decode(f.Text, &tree); err != nil {
				t.Fatalf("the library says %v", err)
			}
			var p source.Problems
			root := ReadTOML(f, &p)
			for _, x := range p.All() {
				if x.Code != "not-finite" {
					t.Errorf("%s: %s [%s]", x.Span.Where(), x.What, x.Code)
				}
			}
			n, err := agrees(root, tree)
			if err != nil {
				t.Error(err)
			}
			leaves += n
		})
	}
	if leaves < 900 {
		t.Errorf("%d leaves were compared: the walk misses most", leaves)
	}
}

func TestInvalidSuite(t *testing.T) {
	for name, text := range suiteFiles(t, "invalid", 480) {
		t.Run(name, func(t *testing.T) {
			f, err := source.Open(name, []byte(text), TOMLLimit)
			if err != nil {
				return // refused at the door, in words
			}
			var p source.Problems
			root := ReadTOML(f, &p)
			short := strings.TrimSuffix(strings.TrimPrefix(name, "invalid/"), ".toml")
			accepted := slices.Contains(later, short) || slices.Contains(merged, short)
			switch n := len(p.All()); {
			case n == 0 && !accepted:
				t.Error("no problem")
			case n > 0 && accepted:
				t.Error("this file is refused after all: take it off the list")
			case accepted:
				var tree map[string]any
				if _, err := toml.Decode(f.Text, &tree); err != nil {
					t.Fatal(err)
				}
				if _, err := agrees(root, tree); err != nil {
					t.Error("a value is lost:", err)
				}
			}
			if err := inside(f, root, &p); err != nil {
				t.Error(err)
			}
		})
	}
}

// agrees walks the located tree along the library's and returns how many leaves it compared. Each located
// text must decode, by itself, to the same value, and each key's text to the field's name.
func agrees(n *Node, v any) (leaves int, err error) {
	text := func(s source.Span) string { return s.File.Text[s.Start:s.End] }
	switch v := v.(type) {
	case map[string]any:
		if n.Kind != Table {
			return 0, fmt.Errorf("%s: %s, want a table", n.Span.Where(), n.Kind)
		}
		if len(n.Fields) != len(v) {
			return 0, fmt.Errorf("%s: %d fields, the library has %d", n.Span.Where(), len(n.Fields), len(v))
		}
		for _, f := range n.Fields {
			child, ok := v[f.Name]
			if !ok || n.Get(f.Name) != f.Node {
				return 0, fmt.Errorf("%s: the field %q is not the library's", n.Span.Where(), f.Name)
			}
			var key map[string]any
			if _, err := toml.Decode(text(f.Node.Key)+" = 0", &key); err != nil || len(key) != 1 ||
				key[f.Name] != int64(0) {
				return 0, fmt.Errorf("%s: key text %q is not %q (%v)", f.Node.Key.Where(), text(f.Node.Key), f.Name,
					err)
			}
			more, err := agrees(f.Node, child)
			if leaves += more; err != nil {
				return leaves, err
			}
		}
		return leaves, nil
	case []map[string]any:
		list := make([]any, len(v))
		for i := range v {
			list[i] = v[i]
		}
		return agrees(n, list)
	case []any:
		if n.Kind != Array || len(n.Items) != len(v) {
			return 0, fmt.Errorf("%s: %s with %d items, want a list of %d", n.Span.Where(), n.Kind, len(n.Items),
				len(v))
		}
		for i, item := range n.Items {
			more, err := agrees(item, v[i])
			if leaves += more; err != nil {
				return leaves, err
			}
		}
		return leaves, nil
	}
	var alone map[string]any
	if _, err := toml.Decode("x = "+text(n.Span), &alone); err != nil {
		return 0, fmt.Errorf("%s: %q by itself: %v", n.Span.Where(), text(n.Span), err)
	}
	if !equal(alone["x"], v) {
		return 0, fmt.Errorf("%s: %q is %v by itself and %v in the file", n.Span.Where(), text(n.Span), alone["x"], v)
	}
	ok := false
	switch v := v.(type) {
	case string:
		ok = n.Kind == String && n.Text == v
	case bool:
		ok = n.Kind == Bool && n.Yes == v
	case int64:
		ok = n.Kind == Number && n.Integer && n.Float == float64(v)
	case float64:
		finite := v
		if math.IsNaN(v) || math.IsInf(v, 0) {
			finite = 0 // and reported
		}
		ok = n.Kind == Number && !n.Integer && n.Float == finite
	case time.Time:
		ok = n.Kind == Date
	}
	if !ok {
		return 0, fmt.Errorf("%s: node %+v does not hold %v", n.Span.Where(), n, v)
	}
	return 1, nil
}

func equal(a, b any) bool {
	if x, ok := a.(float64); ok {
		y, ok := b.(float64)
		return ok && (x == y || math.IsNaN(x) && math.IsNaN(y))
	}
	if x, ok := a.(time.Time); ok {
		y, ok := b.(time.Time)
		return ok && x.Equal(y) && x.Location().String() == y.Location().String()
	}
	return reflect.DeepEqual(a, b)
}

// inside checks that every span is in the file.
func inside(f *source.File, root *Node, p *source.Problems) error {
	check := func(s source.Span) error {
		if s.File != nil && (s.File != f || s.Start < 0 || s.Start > s.End || s.End > len(f.Text)) {
			return fmt.Errorf("span %d to %d is outside of %d bytes", s.Start, s.End, len(f.Text))
		}
		return nil
	}
	var walk func(n *Node) error
	walk = func(n *Node) error {
		for _, s := range []source.Span{n.Key, n.Span} {
			if err := check(s); err != nil {
				return err
			}
		}
		for _, x := range n.Fields {
			if err := walk(x.Node); err != nil {
				return err
			}
		}
		for _, x := range n.Items {
			if err := walk(x); err != nil {
				return err
			}
		}
		return nil
	}
	for _, x := range p.All() {
		if err := check(x.Span); err != nil {
			return err
		}
	}
	return walk(root)
}

func FuzzReadTOML(f *testing.F) {
	for _, kind := range []string{"valid", "invalid"} {
		for _, text := range suiteFiles(f, kind, 1) {
			f.Add(text)
		}
	}
	for _, text := range []string{"open.feature = [\"a\"]\nopen = 2\n",
		"a = [ { b.c = 1 }, # x\n { 'd' = \"\"\"e\"\"\"\"\" } ]", "[[a]]\n[a.b]\nc=1\n[[a]]\n[a.b]\nc=2"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		file, err := source.Open("fuzz.toml", []byte(text), 1<<12)
		if err != nil {
			return
		}
		var tree map[string]any
		_, refused := toml.Decode(file.Text, &tree)
		var p source.Problems
		root := ReadTOML(file, &p)
		if err := inside(file, root, &p); err != nil {
			t.Fatal(err)
		}
		codes := map[string]bool{}
		for _, x := range p.All() {
			codes[x.Code] = true
		}
		switch {
		case refused != nil:
			if len(codes) == 0 {
				t.Fatalf("the library refuses it (%v), and no problem is told", refused)
			}
		case !codes["duplicate-key"] && !codes["toml-syntax"]:
			if _, err := agrees(root, tree); err != nil {
				t.Fatal(err)
			}
		}
	})
}
