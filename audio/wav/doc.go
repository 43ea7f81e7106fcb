// Package wav reads WAV files of any kind that sound programs write, in one pass and constant memory, and records
// WAV files that survive a crash.
//
// Read are RIFF, RF64 and BW64 containers with PCM of 8 to 32 bits or floats of 32 or 64 bits, plain or with an
// extensible header, of 1 to 256 channels. Sources for the layouts: Microsoft, "Multimedia Programming Interface and
// Data Specifications 1.0" (1991), "New Multimedia Data Types and Data Techniques" (1994) and "Multiple Channel Audio
// Data and WAVE Files" (2001), EBU Tech 3306 and ITU-R BS.2088 (RF64 and BW64), from memory.
//
// Integer samples are divided by full scale: 16-bit 32767 becomes 32767/32768, -32768 becomes -1. Float samples are
// passed through untouched, NaN and infinities too. Positions are in frames from the start of the data.
package wav
