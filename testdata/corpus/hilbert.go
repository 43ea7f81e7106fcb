package corpus

import _ "embed"

// Hilbert is a Python script to compare with; its first lines say how it is used.
//
//go:embed hilbert.py
var Hilbert string
