// Package live speaks to sound cards through PortAudio. It is the only package that needs cgo; built without cgo, or
// with the tag nolive, it says that it cannot, and everything else of the program works.
//
// What PortAudio tells of a device is passed on as it comes. Do not trust its latencies: some drivers report none,
// others hours.
package live
