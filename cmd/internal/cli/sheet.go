package cli

import (
	"github.com/spf13/cobra"
)

func newSheet(env Env) *cobra.Command {
	c := &cobra.Command{
		Use:   "sheet",
		Short: "Write and check the sheets of engines and dials",
		Args:  cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return c.Help()
			}
			return fail(ExitUsage, "run 'breakcue sheet --help' for the list of commands", "unknown command %q for sheet", args[0])
		},
	}
	c.AddCommand(newSheetCheck(env), newSheetNew(env))
	return c
}
