// Package corpus makes recordings of a test tone through contacts of which every edge is known, scores what a detector finds in
// them, and measures by Monte Carlo how well edges in such noise can be placed at all.
//
// Each Recipe is a line in the table in recipes.go. Its recording is the same each time: the seed comes from its name. Words are from the
// contacts' point of view: an edge is of kind "open" or "close". Levels are amplitudes, 1 = full scale; SNR is the power of the tone over that of
// the noise in the full band, while the tone is loud.
//
//	go run ./testdata/corpus/make FOLDER [NAME...]
//
// writes the recordings as WAV files, each with its truth beside it as JSON.
package corpus
