// Package files writes the recordings of the corpus as files. It is apart from the corpus, which needs none of our other packages.
package files

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"breakcue/audio/wav"
	"breakcue/testdata/corpus"
)

// Write writes a recording to a folder, as a 16-bit WAV file called Truth.File and its truth beside it as JSON, in the place of such as are there. It
// returns the path of the WAV file. The samples of t can be had no more after it.
func Write(folder string, t *corpus.Take) (string, error) {
	path := filepath.Join(folder, t.Truth.File)
	w, err := wav.Create(path, wav.Spec{SampleRate: t.Truth.Rate, Channels: t.Channels, Encoding: wav.PCM16, Overwrite: true})
	if err != nil {
		return path, err
	}
	if err := errors.Join(t.Each(w.Write), w.Close()); err != nil {
		return path, err
	}
	b, err := json.MarshalIndent(t.Truth, "", " ")
	if err != nil {
		return path, err
	}
	return path, os.WriteFile(strings.TrimSuffix(path, ".wav")+".json", append(b, '\n'), 0o666)
}
