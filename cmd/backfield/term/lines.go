package term

import (
	"bufio"
	"context"
	"io"
)

// ReadLines hands over what is typed, a line at a time, until the input or the context ends. A line that is longer than
// anybody types is handed over by its beginning, to be refused.
func ReadLines(ctx context.Context, in io.Reader, to chan<- string) {
	r := bufio.NewReader(in)
	for {
		line, more, err := r.ReadLine()
		if err != nil {
			return
		}
		text := string(line)
		if more { // over 4 KiB: it is cut, and the next line is read
			text = text[:80] + "..."
			for more && err == nil {
				_, more, err = r.ReadLine()
			}
		}
		select {
		case to <- text:
		case <-ctx.Done():
			return
		}
	}
}
