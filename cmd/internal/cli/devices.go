package cli

import (
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"breakcue/audio/live"
	"breakcue/cmd/internal/session"
)

func newDevices(env Env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:     "devices",
		Short:   "List the sound cards and what they can do",
		Example: "  breakcue devices\n  breakcue devices --json",
		Args:    exactArgs(0, "no argument"),
		RunE: func(*cobra.Command, []string) error {
			list, err := live.Devices()
			return printDevices(env, list, err, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

// devicesResult is what `devices --json` prints.
type devicesResult struct {
	Schema  string         `json:"schema"`
	Devices []deviceResult `json:"devices"`
}

// deviceResult is one sound card of `devices --json`. The latencies are what the driver says; do not rely on them.
type deviceResult struct {
	Name                string  `json:"name"`
	HostAPI             string  `json:"host_api"`
	MaxInputs           int     `json:"max_input_channels"`
	MaxOutputs          int     `json:"max_output_channels"`
	DefaultRate         float64 `json:"default_sample_rate"`
	LowInputLatencyMS   float64 `json:"low_input_latency_ms"`
	HighInputLatencyMS  float64 `json:"high_input_latency_ms"`
	LowOutputLatencyMS  float64 `json:"low_output_latency_ms"`
	HighOutputLatencyMS float64 `json:"high_output_latency_ms"`
	DefaultInput        bool    `json:"default_input"`
	DefaultOutput       bool    `json:"default_output"`
}

// printDevices prints the answer of live.Devices; without a device it also fails.
func printDevices(env Env, list []live.Device, err error, asJSON bool) error {
	switch {
	case errors.Is(err, live.ErrUnavailable):
		return &Failure{Code: ExitAudio, Err: err, Hint: "recordings work all the same: run 'breakcue review FILE'"}
	case err != nil:
		return &Failure{Code: ExitAudio, Err: err, Hint: "check that the sound system runs and that this user may use it"}
	}
	if asJSON {
		if err := printJSON(env.Out, devicesJSON(list)); err != nil {
			return err
		}
	}
	if len(list) == 0 {
		return fail(ExitAudio, "plug in a sound card with a line input, or check that this user may use it (Linux: group audio)",
			"no sound card found")
	}
	if asJSON {
		return nil
	}
	return printDeviceTable(env, list)
}

func devicesJSON(list []live.Device) devicesResult {
	ms := func(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
	result := devicesResult{Schema: "breakcue.devices/1", Devices: []deviceResult{}}
	for _, d := range list {
		result.Devices = append(result.Devices, deviceResult{
			Name: d.Name, HostAPI: d.HostAPI, MaxInputs: d.MaxInputs, MaxOutputs: d.MaxOutputs, DefaultRate: d.DefaultRate,
			LowInputLatencyMS: ms(d.LowInputLatency), HighInputLatencyMS: ms(d.HighInputLatency),
			LowOutputLatencyMS: ms(d.LowOutputLatency), HighOutputLatencyMS: ms(d.HighOutputLatency),
			DefaultInput: d.DefaultInput, DefaultOutput: d.DefaultOutput,
		})
	}
	return result
}

func printDeviceTable(env Env, list []live.Device) error {
	w := tabwriter.NewWriter(env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "Device\tSystem\tInputs\tOutputs\tRate [Hz]\tDefault for")
	for _, d := range list {
		var uses []string
		if d.DefaultInput {
			uses = append(uses, "input")
		}
		if d.DefaultOutput {
			uses = append(uses, "output")
		}
		use := strings.Join(uses, ", ")
		if use == "" {
			use = "-"
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%d\t%.0f\t%s\n",
			session.Printable(d.Name), session.Printable(d.HostAPI), d.MaxInputs, d.MaxOutputs, d.DefaultRate, use)
	}
	return w.Flush()
}
