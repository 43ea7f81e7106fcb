package cli

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"breakcue/audio/live"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
)

const (
	nameColumns = 32
	deviceRow   = "%-32s  %3v  %3v  %-22s  %s\n"
)

// printDeviceTable prints two lines or a few more for each device, in 80 columns: what it can do, and details.
func printDeviceTable(w io.Writer, list []live.Device, last string) error {
	var b bytes.Buffer
	able := 0
	fmt.Fprintf(&b, deviceRow, "Device", "In", "Out", "Rates [kHz]", "The job")
	for _, d := range list {
		job := missing(d)
		if job == "" {
			job = "can do it"
			able++
		}
		fmt.Fprintf(&b, deviceRow, shortened(session.Printable(d.Name), nameColumns), d.MaxInputs, d.MaxOutputs, rateWords(d), job)
		for _, line := range session.Wrap(deviceDetails(d, last), "; ", session.Columns-2) {
			fmt.Fprintf(&b, "  %s\n", line)
		}
	}
	fmt.Fprintf(&b, "\nThe job is to play the tone and to record what comes back, through one card.\n"+
		"Of %s, %d can do it. * marks a card's usual rate.\n"+
		"Latencies are what the drivers say, which is often not true.\n"+
		"Two sets of points (--sets 2) take two outputs of a card: a beep then needs\nanother card (--alert-device).\n", pump.Count(len(list), "device", "devices"), able)
	_, err := b.WriteTo(w)
	return err
}

// deviceDetails are the parts of the second line.
func deviceDetails(d live.Device, last string) []string {
	parts := []string{session.Printable(d.HostAPI)}
	switch {
	case d.DefaultInput && d.DefaultOutput:
		parts = append(parts, "default input and output")
	case d.DefaultInput:
		parts = append(parts, "default input")
	case d.DefaultOutput:
		parts = append(parts, "default output")
	}
	if usedLast(d, last) {
		parts = append(parts, "used last")
	}
	if d.MaxInputs > 0 {
		parts = append(parts, "latency in "+latencyWords(d.LowInputLatency, d.HighInputLatency))
	}
	if d.MaxOutputs > 0 {
		parts = append(parts, "latency out "+latencyWords(d.LowOutputLatency, d.HighOutputLatency))
	}
	return parts
}

func latencyWords(low, high time.Duration) string {
	if low <= 0 && high <= 0 {
		return "not told"
	}
	ms := func(d time.Duration) string {
		decimals := 0
		if d < 9950*time.Microsecond {
			decimals = 1
		}
		return strconv.FormatFloat(float64(d)/float64(time.Millisecond), 'f', decimals, 64)
	}
	if ms(low) == ms(high) {
		return ms(low) + " ms"
	}
	return ms(low) + "-" + ms(high) + " ms"
}

// rateWords gives the rates of a device, the usual one with a star.
func rateWords(d live.Device) string {
	usual := int(d.DefaultRate)
	rates := d.Rates
	if rates == nil && usual > 0 {
		rates = []int{usual}
	}
	var words []string
	for _, r := range rates {
		word := strconv.FormatFloat(float64(r)/1000, 'f', -1, 64)
		if r == usual {
			word += "*"
		}
		words = append(words, word)
	}
	switch {
	case len(rates) == 0 && d.Rates == nil:
		words = append(words, "not known")
	case d.Rates == nil:
		words = append(words, "others not known")
	case len(words) == 0:
		words = append(words, "none of the usual")
	}
	return strings.Join(words, " ")
}

// shortened takes out of the middle what is more than so many columns.
func shortened(s string, columns int) string {
	const gap = "..."
	r := []rune(s)
	if len(r) <= columns {
		return s
	}
	tail := (columns - len(gap)) / 3
	head := columns - len(gap) - tail
	return string(r[:head]) + gap + string(r[len(r)-tail:])
}
