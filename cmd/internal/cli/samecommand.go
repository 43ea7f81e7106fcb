package cli

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// sameCommand is a command with the flags that were given, to type it once more.
func sameCommand(c *cobra.Command) string {
	words := []string{c.CommandPath()}
	c.Flags().Visit(func(f *pflag.Flag) {
		name := "--" + f.Name
		if list, ok := f.Value.(pflag.SliceValue); ok {
			all := list.GetSlice()
			for i, one := range all {
				if x, err := strconv.ParseFloat(one, 64); err == nil { // as it was typed
					all[i] = strconv.FormatFloat(x, 'g', -1, 64)
				}
			}
			words = append(words, name+" "+shellWord(strings.Join(all, ",")))
			return
		}
		switch value := f.Value.String(); {
		case f.Value.Type() != "bool":
			words = append(words, name+" "+shellWord(value))
		case value == "true":
			words = append(words, name)
		default:
			words = append(words, name+"="+value)
		}
	})
	return strings.Join(words, " ")
}
