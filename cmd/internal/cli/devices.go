package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"breakcue/audio/live"
	"breakcue/cmd/internal/known"
	"breakcue/cmd/internal/session"
)

func newDevices(env Env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "devices",
		Short: "List the sound cards and what they can do",
		Long: "List the sound cards and whether they can do the job: play the test tone and record what comes back.\n" +
			"Nothing is played. A part of a name is enough for --device where no other card has it.",
		Example: "  breakcue devices\n  breakcue devices --json",
		Args:    exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			f, err := known.Load(env.Getenv)
			if err != nil {
				fmt.Fprintf(env.Err, "breakcue: note: %s\n", session.Printable(err.Error()))
			}
			list, err := listWithin(c.Context(), env.Cards.List)
			return printDevices(env, list, err, f.Last, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

// listWithin asks for the devices. The asking cannot be stopped, only left: Ctrl-C need not wait for a sound server that
// does not answer.
func listWithin(ctx context.Context, devices func() ([]live.Device, error)) ([]live.Device, error) {
	type answer struct {
		list []live.Device
		err  error
	}
	done := make(chan answer, 1)
	go func() {
		list, err := devices()
		done <- answer{list, err}
	}()
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case a := <-done:
		return a.list, a.err
	}
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
	CanDoJob            bool    `json:"can_do_job"`
	Missing             string  `json:"missing"` // why it cannot; empty when it can
	MaxInputs           int     `json:"max_input_channels"`
	MaxOutputs          int     `json:"max_output_channels"`
	DefaultRate         float64 `json:"default_sample_rate"`
	Rates               []int   `json:"rates"` // see live.Device; null: not known
	LowInputLatencyMS   float64 `json:"low_input_latency_ms"`
	HighInputLatencyMS  float64 `json:"high_input_latency_ms"`
	LowOutputLatencyMS  float64 `json:"low_output_latency_ms"`
	HighOutputLatencyMS float64 `json:"high_output_latency_ms"`
	DefaultInput        bool    `json:"default_input"`
	DefaultOutput       bool    `json:"default_output"`
	UsedLast            bool    `json:"used_last"`
}

// missing says what a device lacks for the job, which is to play the tone and to record what comes back; empty: nothing.
func missing(d live.Device) string {
	switch {
	case d.MaxInputs > 0 && d.MaxOutputs > 0:
		return ""
	case d.MaxInputs > 0:
		return "only records"
	case d.MaxOutputs > 0:
		return "only plays"
	}
	return "no channels"
}

// printDevices prints the list of devices; without a device it also fails. last is the name of the one used last.
func printDevices(env Env, list []live.Device, err error, last string, asJSON bool) error {
	switch {
	case errors.Is(err, live.ErrUnavailable):
		return &Failure{Code: ExitAudio, Err: err, Hint: "recordings work all the same: run 'breakcue review FILE'"}
	case cancelled(err):
		return err
	case err != nil:
		return &Failure{Code: ExitAudio, Err: err, Hint: "check that the sound system runs and that this user may use it"}
	}
	if asJSON {
		if err := printJSON(env.Out, devicesJSON(list, last)); err != nil {
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
	return printDeviceTable(env.Out, list, last)
}

func devicesJSON(list []live.Device, last string) devicesResult {
	ms := func(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
	result := devicesResult{Schema: "breakcue.devices/1", Devices: []deviceResult{}}
	for _, d := range list {
		result.Devices = append(result.Devices, deviceResult{
			Name: d.Name, HostAPI: d.HostAPI, CanDoJob: missing(d) == "", Missing: missing(d),
			MaxInputs: d.MaxInputs, MaxOutputs: d.MaxOutputs, DefaultRate: d.DefaultRate, Rates: d.Rates,
			LowInputLatencyMS: ms(d.LowInputLatency), HighInputLatencyMS: ms(d.HighInputLatency),
			LowOutputLatencyMS: ms(d.LowOutputLatency), HighOutputLatencyMS: ms(d.HighOutputLatency),
			DefaultInput: d.DefaultInput, DefaultOutput: d.DefaultOutput, UsedLast: usedLast(d, last),
		})
	}
	return result
}

func usedLast(d live.Device, last string) bool { return last != "" && d.Name == last }
