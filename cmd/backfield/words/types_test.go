package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"path"
	"slices"
	"strings"
	"testing"
)

// typePackages is where each type name of the program is declared: name to packages, each once, in order.
func typePackages(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string]map[string]bool{}
	walk(t, func(name, text string) {
		if path.Ext(name) != ".go" || strings.HasSuffix(name, "_test.go") {
			return
		}
		for _, typ := range typesOf(t, name, text) {
			if found[typ] == nil {
				found[typ] = map[string]bool{}
			}
			found[typ][path.Dir(name)] = true
		}
	})
	list := map[string][]string{}
	for typ, dirs := range found {
		list[typ] = slices.Sorted(maps.Keys(dirs))
	}
	return list
}

// typesOf lists the types that a file declares outside of functions.
func typesOf(t *testing.T, name, text string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), name, text, 0)
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, d := range f.Decls {
		if g, ok := d.(*ast.GenDecl); ok && g.Tok == token.TYPE {
			for _, s := range g.Specs {
				list = append(list, s.(*ast.TypeSpec).Name.Name)
			}
		}
	}
	return list
}

// sameName lists the names, in any case, that more than one package declares as a type.
func sameName(types map[string][]string) map[string][]string {
	folded := map[string][]string{}
	for _, name := range slices.Sorted(maps.Keys(types)) {
		key := strings.ToLower(name)
		folded[key] = append(folded[key], types[name]...)
	}
	for key, dirs := range folded {
		slices.Sort(dirs)
		if folded[key] = slices.Compact(dirs); len(folded[key]) < 2 {
			delete(folded, key)
		}
	}
	return folded
}
