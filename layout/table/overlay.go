package table

import (
	"reflect"
	"slices"
)

// Overlay lays one tree over another, as a venue over a rig: keys of over replace those of base, tables are
// merged key by key, and lists are replaced whole. The lists that the struct type of marks as named (see Decode) are
// merged: their entries are matched by the key "name", merged where base has the name and added at the end where it
// does not. It returns the entries that were added. Neither tree is changed.
func Overlay(base, over *Node, of any) (merged *Node, added []*Node) {
	var named []string
	for _, k := range keysOf(reflect.TypeOf(of)) {
		if k.named {
			named = append(named, k.name)
		}
	}
	return overlay(base, over, named)
}

func overlay(base, over *Node, named []string) (merged *Node, added []*Node) {
	merged = &Node{Kind: Table, Key: base.Key, Span: base.Span}
	for _, f := range base.Fields {
		o := over.Get(f.Name)
		switch {
		case o == nil:
			merged.add(f.Name, f.Node)
		case o.Kind == Table && f.Node.Kind == Table:
			inner, more := overlay(f.Node, o, nil)
			merged.add(f.Name, inner)
			added = append(added, more...)
		case o.Kind == Array && f.Node.Kind == Array && slices.Contains(named, f.Name):
			list, more := overlayByName(f.Node, o)
			merged.add(f.Name, list)
			added = append(added, more...)
		default:
			merged.add(f.Name, o)
		}
	}
	for _, f := range over.Fields {
		if base.Get(f.Name) == nil {
			merged.add(f.Name, f.Node)
		}
	}
	return merged, added
}

func overlayByName(base, over *Node) (list *Node, added []*Node) {
	list = &Node{Kind: Array, Key: base.Key, Span: base.Span}
	at := map[string]int{}
	for i, item := range base.Items {
		list.Items = append(list.Items, item)
		if name := item.Get("name"); name != nil {
			at[name.Text] = i
		}
	}
	for _, item := range over.Items {
		name := item.Get("name")
		if name != nil {
			if i, ok := at[name.Text]; ok {
				list.Items[i], _ = overlay(list.Items[i], item, nil)
				continue
			}
		}
		list.Items = append(list.Items, item)
		added = append(added, item)
	}
	return list, added
}
