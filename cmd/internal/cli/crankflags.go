package cli

import (
	"github.com/spf13/cobra"

	"breakcue/timing"
	"breakcue/timing/sheet"
)

// crankFlags are the flags that give a crank, as typed.
type crankFlags struct{ engine, stroke, rod, pinOffset string }

// add puts the flags on a command.
func (f *crankFlags) add(c *cobra.Command) {
	flags := c.Flags()
	flags.StringVar(&f.stroke, "stroke", "", "stroke, twice the crank radius (mm unless a unit is given)")
	flags.StringVar(&f.rod, "rod", "", "rod length between centres (mm unless a unit is given)")
	flags.StringVar(&f.pinOffset, "pin-offset", "", "offset of the piston pin (mm unless a unit is given)")
	flags.StringVar(&f.engine, "engine", "", "engine sheet to take the crank from")
}

// crank returns the crank that the flags give, taken as known, or the unknown one when there are none. A measure typed with an
// uncertainty is refused.
func (f crankFlags) crank() (timing.Crank, error) {
	crank, u, err := f.uncertain()
	if err == nil && !u.Known() {
		err = fail(ExitUsage, "leave out what stands after ±", "uncertain measures of the crank are only for convert with a VALUE")
	}
	return crank, err
}

// uncertain returns the crank that the flags give, or the unknown one when there are none, with the standard uncertainties that
// were typed after ±.
func (f crankFlags) uncertain() (timing.Crank, timing.CrankU, error) {
	none := func(err error) (timing.Crank, timing.CrankU, error) { return timing.Crank{}, timing.CrankU{}, err }
	typed := f.stroke + f.rod + f.pinOffset
	switch {
	case f.engine != "" && typed != "":
		return none(fail(ExitUsage, "leave out --stroke, --rod and --pin-offset, or --engine", "the crank is given twice"))
	case f.engine != "":
		e, err := sheet.LoadEngine(f.engine)
		if err != nil {
			return none(fail(ExitFailed, "correct the engine sheet and try again", "%w", err))
		}
		return e.Crank, timing.CrankU{}, nil
	case typed == "":
		return none(nil)
	case f.stroke == "" || f.rod == "":
		return none(fail(ExitUsage, "give both, as --stroke 54 --rod 110", "a crank needs --stroke and --rod"))
	}
	var lengths, us [3]timing.Length
	for i, flag := range []struct{ name, text string }{{"--stroke", f.stroke}, {"--rod", f.rod}, {"--pin-offset", f.pinOffset}} {
		if flag.text == "" {
			continue
		}
		q, u, err := timing.ParseUncertain(flag.text)
		if err == nil {
			lengths[i], err = q.Length(timing.Millimetre)
		}
		if err == nil {
			us[i], err = u.Length(timing.Millimetre)
		}
		if err != nil {
			return none(fail(ExitUsage, "give it as 54, 54mm or 2.125in", "%s: %w", flag.name, err))
		}
	}
	crank, err := timing.NewCrank(lengths[0], lengths[1], lengths[2])
	if err != nil {
		return none(fail(ExitUsage, "check --stroke, --rod and --pin-offset: the stroke is twice the crank radius, "+
			"the rod is measured between centres", "%w", err))
	}
	return crank, timing.CrankU{Stroke: us[0], Rod: us[1], PinOffset: us[2]}, nil
}
