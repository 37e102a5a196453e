package schemas

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"backfield/cmd/backfield/help"
	"backfield/layout/source"
	"backfield/layout/table"
)

var update = flag.Bool("update", false, "write the schemas again")

// The schema files in the folder, which the examples name, are what the command prints.
func TestSchemasAreCurrent(t *testing.T) {
	for _, name := range Names() {
		want, _ := Of(name)
		path := name + ".json"
		if *update {
			if err := os.WriteFile(path, want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if got, _ := os.ReadFile(path); string(got) != string(want) {
			t.Errorf("%s is not what the command prints: go test ./cmd/backfield/schemas -update", path)
		}
	}
	files, _ := filepath.Glob("*.json")
	if len(files) != len(schemas) {
		t.Errorf("the folder has %d files for %d schemas", len(files), len(schemas))
	}
}

// compiledSchema is a schema in an independent validator.
func compiledSchema(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	text, ok := Of(name)
	if !ok {
		t.Fatal(name)
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name+".json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(name + ".json")
	if err != nil {
		t.Fatalf("%s is not a schema: %v", name, err)
	}
	return s
}

// asJSON converts a TOML document, or any tree, to the validator's form.
func asJSON(t *testing.T, tree any) any {
	t.Helper()
	text, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// Every TOML file of the examples fits the schema that its first line names.
func TestExamplesFitTheirSchemas(t *testing.T) {
	count := 0
	err := filepath.WalkDir("../../../examples", func(path string, d os.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".toml" {
			return err
		}
		count++
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		first, _, _ := strings.Cut(string(text), "\n")
		named, ok := strings.CutPrefix(first, "#:schema ")
		if !ok {
			t.Errorf("%s names no schema in its first line", path)
			return nil
		}
		at := filepath.Join(filepath.Dir(path), filepath.FromSlash(named))
		if _, err := os.Stat(at); err != nil {
			t.Errorf("%s names the schema %s, which is not there", path, named)
			return nil
		}
		var tree map[string]any
		if _, err := toml.Decode(string(text), &tree); err != nil {
			t.Errorf("%s: %v", path, err)
			return nil
		}
		if err := compiledSchema(t, strings.TrimSuffix(filepath.Base(at), ".json")).Validate(asJSON(t,
			tree)); err != nil {
			t.Errorf("%s: %v", path, err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if count < 9 {
		t.Errorf("only %d files", count)
	}
}

// A schema and the decoder agree about every key: whether it is allowed, whether it is required, and which kinds of
// value it can have.
func TestSchemasAgreeWithTheDecoder(t *testing.T) {
	for _, x := range schemas {
		text, _ := Of(x.name)
		var s schemaNode
		if err := json.Unmarshal(text, &s); err != nil {
			t.Fatal(err)
		}
		a := agreement{t: t, name: x.name, of: x.of, valid: compiledSchema(t, x.name), lacks: x.optional}
		a.object(s, func(v any) any { return v })
		if a.fit < 40 || a.unfit < 300 {
			t.Errorf("%s: only %d documents that fit and %d that do not", x.name, a.fit, a.unfit)
		}
	}
}

// schemaNode is a schema, or a part of one, as printed.
type schemaNode struct {
	Type       string
	Enum       []string
	Required   []string
	Properties map[string]schemaNode
	Others     *json.RawMessage `json:"additionalProperties"`
	Items      *schemaNode
	MinItems   int
	AnyOf      []schemaNode
}

// least is the smallest value that fits.
func (n schemaNode) least() any {
	switch {
	case len(n.AnyOf) > 0:
		return n.AnyOf[0].least()
	case len(n.Enum) > 0:
		return n.Enum[0]
	}
	switch n.Type {
	case "string":
		return "1"
	case "boolean":
		return true
	case "array":
		list := []any{}
		for range n.MinItems {
			list = append(list, n.Items.least())
		}
		return list
	case "object":
		tree := map[string]any{}
		for _, name := range n.Required {
			tree[name] = n.Properties[name].least()
		}
		return tree
	}
	return 1
}

type agreement struct {
	t          *testing.T
	name       string
	of         any
	valid      *jsonschema.Schema
	lacks      bool // ignores the decoder's missing keys
	fit, unfit int
}

// object tries every key of a table. whole makes a file with that table in its place.
func (a *agreement) object(n schemaNode, whole func(any) any) {
	with := func(name string, v any) map[string]any {
		tree := n.least().(map[string]any)
		tree[name] = v
		return tree
	}
	a.compare(whole(n.least()))
	a.compare(whole(with("no_such_key", 1)))
	for _, name := range n.Required {
		tree := n.least().(map[string]any)
		delete(tree, name)
		a.compare(whole(tree))
	}
	var others schemaNode
	if n.Others != nil && json.Unmarshal(*n.Others, &others) == nil {
		a.value(others, func(v any) any { return whole(with("anything", v)) })
	}
	var names []string
	for name := range n.Properties {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		a.value(n.Properties[name], func(v any) any { return whole(with(name, v)) })
	}
}

// value tries every kind of value in one place.
func (a *agreement) value(n schemaNode, whole func(any) any) {
	word := "1"
	for _, x := range append(n.AnyOf, n) {
		if len(x.Enum) > 0 {
			word = x.Enum[0]
		}
	}
	table := map[string]any{}
	for _, v := range []any{word, 1, 0.5, true, []any{}, []any{1}, []any{1, 2.5}, []any{1, 2, 3}, []any{"A"},
		[]any{"A", 1}, []any{true}, []any{[]any{1, 2}},
		[]any{table}, []any{table, 1}, table, map[string]any{"no_such_key": "A"},
		map[string]any{"no_such_key": []any{"A"}}} {
		a.compare(whole(v))
	}
	for _, x := range append(n.AnyOf, n) {
		switch x.Type {
		case "object":
			a.object(x, whole)
		case "array":
			a.value(*x.Items, func(v any) any {
				list := []any{v}
				for len(list) < x.MinItems {
					list = append(list, x.Items.least())
				}
				return whole(list)
			})
		}
	}
}

// compare compares the verdicts of validator and decoder on one file.
func (a *agreement) compare(tree any) {
	var lines strings.Builder
	for _, name := range sorted(tree.(map[string]any)) {
		fmt.Fprintf(&lines, "%s = %s\n", name, inTOML(tree.(map[string]any)[name]))
	}
	text := lines.String()
	verdict := a.valid.Validate(asJSON(a.t, tree))
	var p source.Problems
	f := &source.File{Name: a.name + ".toml", Text: text}
	into := reflect.New(reflect.TypeOf(a.of))
	table.Decode(table.ReadTOML(f, &p), into.Interface(), &p)
	var refused []string
	for _, x := range p.All() {
		if slices.Contains([]string{"wrong-type", "unknown-key", "missing-key", "toml-syntax"}, x.Code) &&
			!(a.lacks && x.Code == "missing-key") {
			refused = append(refused, x.Span.Where()+": "+x.What)
		}
	}
	if verdict == nil {
		a.fit++
	} else {
		a.unfit++
	}
	if (verdict == nil) != (len(refused) == 0) && !a.t.Failed() {
		a.t.Errorf("the schema says %v and the decoder %q of\n%s", verdict, refused, text)
	}
}

func sorted(tree map[string]any) []string {
	var names []string
	for name := range tree {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

func inTOML(v any) string {
	switch v := v.(type) {
	case string:
		return strconv.Quote(v)
	case []any:
		var items []string
		for _, x := range v {
			items = append(items, inTOML(x))
		}
		return "[" + strings.Join(items, ", ") + "]"
	case map[string]any:
		var items []string
		for _, name := range sorted(v) {
			items = append(items, name+" = "+inTOML(v[name]))
		}
		return "{ " + strings.Join(items, ", ") + " }"
	}
	return fmt.Sprint(v)
}

// Every value that a schema offers is on its help page.
func TestSchemasOfferWhatIsRead(t *testing.T) {
	for at, words := range choices {
		topic, path, _ := strings.Cut(at, " ")
		text, err := help.Page(topic)
		if err != nil {
			t.Fatal(err)
		}
		if topic == "score" {
			more, err := help.Page("stands")
			if err != nil {
				t.Fatal(err)
			}
			text += more
		}
		for _, w := range words {
			if !strings.Contains(text, "`\""+w+"\"`") && !strings.Contains(text, `"`+w+`"`) {
				t.Errorf("%s offers %q, which %s.md does not mention", path, w, topic)
			}
		}
	}
}

// Most keys have a description from their help page.
func TestSchemasDescribe(t *testing.T) {
	for _, x := range schemas {
		list, bare, all := notesOf(x.page), []string{}, 0
		table.SchemaOf(x.of, func(path string, _ *table.Schema) {
			if all++; describe(list, path) == "" {
				bare = append(bare, path)
			}
		})
		if all < 15 || len(bare) > all/8 {
			t.Errorf("%s: of %d keys these have no description on their page: %q", x.name, all, bare)
		}
	}
}
