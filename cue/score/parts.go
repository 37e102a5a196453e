package score

import "backfield/layout/table"

// PartPlayers is who plays a part of the music: players, or @sections. A part of Names that are empty is nobody's.
type PartPlayers struct {
	Part  table.Text
	Names []table.Text
}

// musicRootTable is [music].
type musicRootTable struct {
	Parts table.Map[[]table.Text] `key:"parts"`
}

// readParts reads who plays which part.
func (s *Score) readParts(t *musicRootTable) {
	for _, e := range t.Parts.Entries {
		s.Parts = append(s.Parts, PartPlayers{Part: e.Name, Names: e.Value})
	}
}
