//go:build !unix

package cue

import "os"

// jobs: nobody stops processes here.
type jobs chan os.Signal

func newJobs() jobs { return nil }

func (jobs) close() {}

func (jobs) stop() {}
