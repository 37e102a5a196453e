// Package show turns a folder of files into one show: it finds and reads the files that a score names, from
// the disk or from an earlier commit, and compiles them, with all problems of all files in one list.
package show

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"backfield/layout/table"
)

// Reader reads the file at a path, which is relative to the working directory or absolute.
type Reader interface {
	Read(path string) ([]byte, error)
}

// Disk reads files as they are saved.
type Disk struct{}

// Read reads a regular file. It does not read past what any file of a show may hold, and does not wait on
// a pipe or a device.
func (Disk) Read(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, plain(err)
	case info.IsDir():
		return nil, fmt.Errorf("is a folder; name the file in it")
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("is not a regular file")
	case info.Size() > table.CSVLimit:
		return nil, fmt.Errorf("is %d bytes long, too long for a file of a show; check that it is the right one",
			info.Size())
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	var data bytes.Buffer // at its size from the start: a large file that grew would take several times as much
	data.Grow(int(info.Size()) + bytes.MinRead)
	if _, err := data.ReadFrom(io.LimitReader(f, table.CSVLimit+1)); err != nil {
		return nil, plain(err)
	}
	return data.Bytes(), nil
}

var errNotThere = errors.New("is not there; check the name and the folder")

// plain words the usual failures without the path, which the message already names.
func plain(err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errNotThere
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("cannot be read for lack of permission; check its permissions")
	}
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	return fmt.Errorf("cannot be read: %w", err)
}

// Commit reads files as they were at a commit of the version control that holds them.
type Commit struct{ Rev string }

// Read asks git for the file; git must be installed.
func (c Commit) Read(path string) ([]byte, error) {
	dir, name := filepath.Split(path)
	if dir == "" {
		dir = "."
	}
	if strings.HasPrefix(c.Rev, "-") {
		return nil, fmt.Errorf("%q is not a revision", c.Rev)
	}
	git := exec.Command("git", "-C", dir, "show", c.Rev+":./"+name)
	var stderr strings.Builder
	git.Stderr = &stderr
	data, err := git.Output()
	if errors.Is(err, exec.ErrNotFound) {
		return nil, fmt.Errorf("cannot be read at %s: git is not installed", c.Rev)
	}
	if err != nil {
		reason, _, _ := strings.Cut(strings.TrimSpace(stderr.String()), "\n")
		if strings.Contains(reason, "not a git repository") {
			return nil, fmt.Errorf("cannot be read at %s: its folder is not under git; compare two folders instead: "+
				"backfield diff OLD NEW", c.Rev)
		}
		return nil, fmt.Errorf("cannot be read at %s: %s", c.Rev, strings.TrimPrefix(reason, "fatal: "))
	}
	return data, nil
}
