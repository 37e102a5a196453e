// Package audio makes sound files of what a mixer does to a sound: of a run with the simulated mixer, and a
// demonstration of what mixers of each kind do. How a mixer sounds is in osc/audible.
package audio

import (
	"fmt"
	"os"
	"path/filepath"

	"backfield/cmd/backfield/publish"
	"backfield/layout/sound"
	"backfield/osc/audible"
	"backfield/osc/wave"
)

const (
	rate      = 48000 // samples a second, unless the user's file has others
	maxFile   = 1 << 28
	seamS     = 0.010 // the ends of a loop fade within this, so that its repeats do not click
	channelDB = -18   // what a channel at 0 dB has in a file, so that some channels fit together
)

// ReadSound reads a WAV file. The note, often empty, and the error name the file.
func ReadSound(path string) (own audible.SoundLoop, note string, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return own, "", err
	}
	if info.Size() > maxFile {
		return own, "", fmt.Errorf("%s has more than %d MB; cut it", path, maxFile>>20)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		return own, "", err
	}
	samples, hz, err := wave.Read(file)
	if err != nil {
		return own, "", fmt.Errorf("%s: %w", path, err)
	}
	if wave.Unsized(file) {
		note = fmt.Sprintf("%s does not say how long it is, as after a recording that was cut off: all %.2f s in it "+
			"are read", path, float64(len(samples))/float64(hz))
	}
	return audible.SoundLoop{Rate: hz, Samples: samples}, note, nil
}

// ReadLoop reads a WAV file, to be repeated without end.
func ReadLoop(path string) (own audible.SoundLoop, note string, err error) {
	own, note, err = ReadSound(path)
	seam := min(int(seamS*float64(own.Rate)), len(own.Samples)/2)
	for i := range seam {
		a := float64(i) / float64(seam)
		own.Samples[i] *= a
		own.Samples[len(own.Samples)-1-i] *= a
	}
	return own, note, err
}

// CheckOutput returns an error if a file could not be written there later. sound is the user's file, empty for none.
func CheckOutput(path, sound string) error {
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		return fmt.Errorf("%s is a folder; name a file, such as out.wav", path)
	}
	if own, soundErr := os.Stat(sound); err == nil && soundErr == nil && os.SameFile(info, own) {
		return fmt.Errorf("%s would be written over the sound that it is made of; name another file", path)
	}
	if folder, err := os.Stat(filepath.Dir(path)); err != nil || !folder.IsDir() {
		return fmt.Errorf("there is no folder %s; make it first", filepath.Dir(path))
	}
	return nil
}

// write writes a sound file, whole or not at all.
func write(path string, s *wave.Stereo) error {
	return publish.Files(filepath.Dir(path), []publish.OutputFile{{Name: filepath.Base(path), Data: s.Bytes()}})
}

// into adds pieces of a mix to a file, at the level of a file.
func into(s *wave.Stereo) func(left, right []float64) {
	a := sound.Gain(channelDB)
	return func(left, right []float64) {
		for i := range left {
			left[i] *= a
			right[i] *= a
		}
		s.Add(left, right)
	}
}
