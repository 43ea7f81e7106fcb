package corpus

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"breakcue/audio/wav"
)

// WriteFiles writes the recording to a folder, as a 16-bit WAV file called Truth.File and its truth beside it as JSON, in the place of such as are
// there. It returns the path of the WAV file. Like Each, once only.
func (t *Take) WriteFiles(folder string) (string, error) {
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
