package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manualFlag is a flag as a manual page shows it.
type manualFlag struct{ name, short, value, usage string }

// flagsOf returns the flags of a command, by name.
func flagsOf(c *cobra.Command) []manualFlag {
	var out []manualFlag
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		value, usage := pflag.UnquoteUsage(f)
		value = strings.ToUpper(value)
		if f.NoOptDefVal != "" && value != "" {
			value = "[=" + value + "]" // it may be left out, and cannot stand apart
		}
		if !isUsual(f) {
			usage += fmt.Sprintf(" (default %s)", f.DefValue)
		}
		out = append(out, manualFlag{f.Name, f.Shorthand, value, usage})
	})
	return out
}

// isUsual tells that a flag's default goes without saying.
func isUsual(f *pflag.Flag) bool {
	if f.Value.Type() == "string" {
		return f.DefValue == ""
	}
	return slices.Contains([]string{"", "0", "0s", "false", "[]"}, f.DefValue)
}
