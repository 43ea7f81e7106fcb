package live

import (
	"fmt"
	"slices"
	"strings"
)

// Choose picks the device to record from and the one to play to out of a list as Devices returns it. They always
// belong to one host API, because one stream serves both. With an empty name they are the defaults of the system, or where a default
// cannot be had the first that will do. Otherwise name is a device's name, or else a part of the names of just one device
// in each direction, in any case of letters; where that fits nothing, the name with the host API in brackets, as this
// package's errors show it, is looked at in the same way. Where several host APIs offer such a pair, that of the default
// input device is taken. The error is a *DeviceError with ErrNoDevice or ErrAmbiguous, and names what there is.
func Choose(list []Device, name string) (in, out Device, err error) {
	i, o, err := choose(list, name)
	if err != nil {
		return Device{}, Device{}, err
	}
	return list[i], list[o], nil
}

// choose is Choose by places in the list.
func choose(list []Device, name string) (in, out int, err error) {
	ins, outs := matches(list, name)
	pairs := pairsOf(list, ins, outs)
	usual := slices.IndexFunc(list, func(d Device) bool { return d.DefaultInput })
	if len(pairs) > 1 && usual >= 0 {
		if same := slices.DeleteFunc(slices.Clone(pairs), func(p pair) bool { return list[p.in].HostAPI != list[usual].HostAPI }); len(same) > 0 {
			pairs = same
		}
	}
	if name == "" {
		// The defaults come first.
		slices.SortStableFunc(pairs, func(a, b pair) int { return b.defaults(list) - a.defaults(list) })
		pairs = pairs[:min(1, len(pairs))]
	}
	switch len(pairs) {
	case 1:
		return pairs[0].in, pairs[0].out, nil
	case 0:
		return 0, 0, &DeviceError{Device: name, What: "find", Err: fmt.Errorf("%w: %s", ErrNoDevice, missing(list, ins, outs, name))}
	}
	var fit []int
	for _, p := range pairs {
		fit = append(fit, p.in, p.out)
	}
	slices.Sort(fit)
	return 0, 0, &DeviceError{Device: name, What: "find", Err: fmt.Errorf("%w: %s", ErrAmbiguous, labels(list, slices.Compact(fit)))}
}

// ChooseOutput is Choose for a device that only plays.
func ChooseOutput(list []Device, name string) (Device, error) {
	i, err := chooseOutput(list, name)
	if err != nil {
		return Device{}, err
	}
	return list[i], nil
}

// chooseOutput is ChooseOutput by places in the list.
func chooseOutput(list []Device, name string) (int, error) {
	ins, outs := matches(list, name)
	switch len(outs) {
	case 1:
		return outs[0], nil
	case 0:
		return 0, &DeviceError{Device: name, What: "find", Err: fmt.Errorf("%w: %s", ErrNoDevice, missing(list, ins, outs, name))}
	}
	return 0, &DeviceError{Device: name, What: "find", Err: fmt.Errorf("%w: %s", ErrAmbiguous, labels(list, outs))}
}

type pair struct{ in, out int }

// defaults counts the defaults in a pair.
func (p pair) defaults(list []Device) (n int) {
	if list[p.in].DefaultInput {
		n++
	}
	if list[p.out].DefaultOutput {
		n++
	}
	return n
}

// matches returns the places of the inputs and outputs with that name, or else with that part of a name.
func matches(list []Device, name string) (ins, outs []int) {
	lower := strings.ToLower(name)
	for _, fits := range []func(d Device) bool{
		func(d Device) bool { return d.Name == name },
		func(d Device) bool { return strings.ToLower(d.Name) == lower },
		func(d Device) bool { return strings.Contains(strings.ToLower(d.Name), lower) },
		func(d Device) bool { return strings.Contains(strings.ToLower(label(d)), lower) },
	} {
		ins, outs = nil, nil
		for i, d := range list {
			if d.MaxInputs > 0 && fits(d) {
				ins = append(ins, i)
			}
			if d.MaxOutputs > 0 && fits(d) {
				outs = append(outs, i)
			}
		}
		if ins != nil || outs != nil {
			break
		}
	}
	return ins, outs
}

// pairsOf joins inputs and outputs of the same host API.
func pairsOf(list []Device, ins, outs []int) (pairs []pair) {
	for _, i := range ins {
		for _, o := range outs {
			if list[i].HostAPI == list[o].HostAPI {
				pairs = append(pairs, pair{i, o})
			}
		}
	}
	return pairs
}

// missing says what there is when nothing fits.
func missing(list []Device, ins, outs []int, name string) string {
	switch {
	case len(list) == 0:
		return "there is none at all"
	case len(ins) == 0 && len(outs) == 0:
		all := make([]int, len(list))
		for i := range all {
			all[i] = i
		}
		return "there are " + labels(list, all)
	case len(ins) == 0:
		return "none that fits can record, only play: " + labels(list, outs)
	case len(outs) == 0 && name == "":
		return "none can play"
	case len(outs) == 0:
		return "none that fits can play, only record: " + labels(list, ins)
	}
	return "none plays and records by the same host API: " + labels(list, append(slices.Clone(ins), outs...))
}

func labels(list []Device, places []int) string {
	var names []string
	for _, i := range places {
		names = append(names, fmt.Sprintf("%q", label(list[i])))
	}
	return strings.Join(names, ", ")
}

// label is the name with the host API, which tells devices of the same name apart.
func label(d Device) string { return d.Name + " (" + d.HostAPI + ")" }
