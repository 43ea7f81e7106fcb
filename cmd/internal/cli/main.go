package cli

import (
	"context"
	"errors"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/cobra"
)

// Main runs one command line and returns the exit code. It never exits the process.
func Main(ctx context.Context, args []string, env Env) int {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	sig := make(chan os.Signal, 1)
	signal.Notify(sig, os.Interrupt, syscall.SIGTERM)
	defer signal.Stop(sig)
	closed := make(chan os.Signal, 1)
	if !signal.Ignored(syscall.SIGHUP) { // the window was closed; nohup is left alone
		signal.Notify(sig, syscall.SIGHUP)
		defer signal.Stop(closed)
	}
	go func() {
		select {
		case s := <-sig:
			cancel(interrupted{s})
			if s == syscall.SIGHUP {
				signal.Notify(closed, s) // it comes twice, from the system and from the shell
			}
			signal.Stop(sig) // a second one ends the program at once, should something hang
		case <-ctx.Done():
		}
	}()

	root := newRoot(env)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	var in interrupted
	if errors.As(context.Cause(ctx), &in) || errors.As(err, &in) { // Ctrl-C may come as a key
		report(env, besides(err)) // whoever interrupted knows; what else went wrong is told
		if in.sig != os.Interrupt {
			return ExitTerminated
		}
		return ExitInterrupted
	}
	return report(env, err)
}

// interrupted is the cause of a context that a signal cancelled.
type interrupted struct{ sig os.Signal }

func (i interrupted) Error() string { return "interrupted by " + i.sig.String() }

// cancelled tells that err holds an interruption; besides tells what else.
func cancelled(err error) bool {
	return errors.Is(err, context.Canceled) || errors.As(err, new(interrupted))
}

// besides returns what err says besides an interruption and that there is no result because of it; nil when that is nothing.
func besides(err error) error {
	if !cancelled(err) && !errors.Is(err, errNoResult) {
		return err
	}
	switch e := err.(type) {
	case *Failure:
		if rest := besides(e.Err); rest != nil {
			return &Failure{Code: e.Code, Err: rest, Hint: e.Hint}
		}
	case interface{ Unwrap() []error }:
		var rest []error
		for _, part := range e.Unwrap() {
			rest = append(rest, besides(part))
		}
		return errors.Join(rest...)
	}
	return nil
}

// version is the version that the program was built from.
func version() string {
	if b, ok := debug.ReadBuildInfo(); ok && b.Main.Version != "" {
		return b.Main.Version
	}
	return "(devel)"
}

// newRoot builds the command tree. Each command lives in the file of its name.
func newRoot(env Env) *cobra.Command {
	root := &cobra.Command{
		Use:   "breakcue",
		Short: "Find, show and log the moment at which contact-breaker points open",
		Args:  cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return c.Help()
			}
			return fail(ExitUsage, "run 'breakcue --help' for the list of commands", "unknown command %q", args[0])
		},
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.SetIn(env.In)
	root.SetOut(env.Out)
	root.SetErr(env.Err)
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fail(ExitUsage, "run '"+c.CommandPath()+" --help' for its flags", "%w", err)
	})
	root.SetVersionTemplate("breakcue {{.Version}}\n")
	root.AddCommand(commands(env)...)
	root.InitDefaultCompletionCmd()
	addCompletions(env, root)
	root.SetUsageTemplate(usageTemplate(root.UsageTemplate()))
	fitHelp(root)
	return root
}

// commands lists every command of the program.
func commands(env Env) []*cobra.Command {
	return []*cobra.Command{
		newCircuit(env),
		newConvert(env),
		newDemo(env),
		newDevices(env),
		newDial(env),
		newLeads(env),
		newListen(env),
		newLog(env),
		newManual(env),
		newReview(env),
		newSession(env),
		newSheet(env),
		newTDC(env),
	}
}

// exactArgs is cobra.ExactArgs with the house's exit code and hint.
func exactArgs(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return fail(ExitUsage, "run '"+c.CommandPath()+" --help' for an example", "%s needs %s, got %d arguments", c.CommandPath(), what, len(args))
		}
		return nil
	}
}
