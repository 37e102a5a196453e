package paper

import (
	"bytes"
	"html/template"

	"backfield/cmd/backfield/picture"
	"backfield/cmd/backfield/show"
)

// fieldPicture is the picture of one cue.
type fieldPicture struct {
	ID  string
	SVG template.HTML
}

// What a page has for a picture, in millimeters: letter and A4 on their side. The style sheet has the same.
const (
	pictureWideMM = 254.0
	pictureHighMM = 176.0

	usualPictureMM = 220.0 // the width of most pictures, since captions and legends are high
)

// pictures draws every cue in the score. All show the same part of the field, so that people can leaf through them.
func (p *Papers) pictures() ([]fieldPicture, error) {
	whole := picture.Whole(p.Show)
	var list []fieldPicture
	for _, r := range p.Rows {
		d, err := readable(p.Show, r.ID, &whole)
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := d.SVG(&b); err != nil {
			return nil, err
		}
		list = append(list, fieldPicture{r.ID, template.HTML(b.String())})
	}
	return list, nil
}

// readable draws a cue so that no text is smaller than 9 pt once the page's width or height bounds the picture.
func readable(s *show.Loaded, id string, frame *picture.Frame) (*picture.Drawing, error) {
	const wideMM = 190                   // as drawn
	const leastMM = 9.05 * 25.4 / 72     // on paper; a little over 9 pt for what rounding takes
	onPaperMM := float64(usualPictureMM) // how wide it is there
	for again := 0; ; again++ {
		look := picture.Look{Frame: frame, WidthMM: wideMM, LeastMM: leastMM * wideMM / onPaperMM}
		d, err := picture.Cue(s, id, look)
		if err != nil {
			return nil, err
		}
		if fits := min(pictureWideMM, pictureHighMM*d.W/d.H); fits < onPaperMM && again < 4 {
			onPaperMM = fits
			continue
		}
		return d, nil
	}
}
