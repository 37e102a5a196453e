package clock

// MusicPart is what one part of a file of music plays: a part of MusicXML, one staff of a part that has several, or a track
// of MIDI.
type MusicPart struct {
	Name  string       // as the file has it: "Trumpet 1"
	Notes []PlayedNote // that sound, in order of time; tied ones are one
}

// PlayedNote is one note that sounds.
type PlayedNote struct {
	From, To   float64 // in counts elapsed since the downbeat
	Key        float64 // what sounds, as a MIDI key: 60 is middle C; Unpitched for a drum
	DynamicsDB float64 // how loudly it begins, in dB from forte
	Marked     bool    // the music says how loudly; else DynamicsDB is 0

	Solo   bool // of a passage that the music calls solo or soli
	Called bool // the first note after that word
	Desk   int  // who of the part plays it, from 1; 0: all of its players
	Desks  int  // into how many desks its players divide here; 0: the desk is one player
	Joined bool // a slur goes on to the next note: no breath before that
	Breath bool // a breath mark follows
}

// Unpitched is the key of a note without a pitch.
const Unpitched = -1

// Placed returns the part with other places of its notes.
func (p MusicPart) Placed(place func(float64) float64) MusicPart {
	notes := make([]PlayedNote, len(p.Notes))
	for i, n := range p.Notes {
		n.From, n.To = place(n.From), place(n.To)
		notes[i] = n
	}
	p.Notes = notes
	return p
}
