// Command breakcue finds, shows and logs the moment at which contact-breaker points open.
package main

import (
	"context"
	"os"

	"breakcue/cmd/internal/cli"
)

func main() { os.Exit(cli.Main(context.Background(), os.Args[1:], cli.OSEnv())) }
