//go:build !linux && !darwin && !windows

package awake

import (
	"context"
	"errors"
)

func hold(context.Context, string) (func(), error) {
	return func() {}, errors.New("awake: the computer may go to sleep and the screen blank (not known how to hold that off on this system)")
}
