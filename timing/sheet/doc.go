// Package sheet reads engine and dial sheets: small TOML files that a mechanic writes once for each engine and each dial.
//
// An engine sheet:
//
//	name = "Lathe-shed twin"
//	cycle = "two-stroke"            # or four-stroke
//	rotation = "clockwise"          # or anticlockwise, seen from the breaker plate's side
//	stroke = "54 mm"
//	rod = "110 mm"                  # between centres
//	pin_offset = "0 mm"             # may be left out
//	cylinders = ["left", "right"]
//	ignition = "battery"            # or magneto: how it is made safe; may be left out
//
//	[timing]
//	value = "2.0 mm"                # before top dead centre: mm, in, thou or deg
//	tolerance = "0.1 mm"            # plus or minus, in a unit of its own
//	spread = "0.05 mm"              # how far the cylinders may differ; may be left out
//	advance = "none"                # state in which it holds: none, at rest or full travel
//	hold = "a wedge of wood"        # what holds the weights there, to be taken out afterwards; may be left out
//
//	[breaker]
//	cam_ratio = 1                   # turns of the cam for one of the crank: 1; four-stroke 0.5, seldom 1
//	gap = "0.35 mm"
//	plate_radius = "30 mm"          # may be left out
//	sets = 2                        # sets of points, which the cylinders take in turn; left out: one for each cylinder
//	cam_rotation = "clockwise"      # when the cam turns against the crank; left out: as rotation
//	coils = ["red lead", "black lead"]  # the coil or lead of each set of points; may be left out
//	source_coil = "stays on"        # a magneto's, on the points during the test; or comes off; may be left out
//
// A dial sheet:
//
//	name = "bench dial"             # may be left out
//	unit = "mm"                     # or in; numbers without a unit are in it
//	graduation = 0.01
//	per_revolution = 1.0            # travel in one turn of the pointer
//	range = 10
//	zeroed = "tdc"                  # or mark
//	counting = "in"                 # figures rise as the plunger goes in, or out
//	counter_at_zero = 0             # revolution counter where the dial reads zero; may be left out
//	preload = 5                     # how far the plunger is pressed in at top dead centre; may be left out
//	plunger_angle = "20 deg"        # to the bore; left out: 0
//	crown_slope = "0 deg"           # of the piston under the plunger; needed when the plunger is inclined
//	plunger_angle_uncertainty = "1 deg"  # standard uncertainties, which may be left out
//	crown_slope_uncertainty = "3 deg"
//	max_error = 0.015               # limit of error, hysteresis and repeatability; left out: by range from
//	hysteresis = 0.003              # JIS B 7503:2011
//	repeatability = 0.003
//	max_error_tenth_revolution = 0.005   # limits of error within a small movement; left out: those of the
//	max_error_half_revolution = 0.009    # standard, in proportion to max_error
//	max_error_revolution = 0.010
//	extension_give = 0.01           # how far a thin or loose extension may give, plus or minus; left out: 0
//
// Reading is strict. An unknown key, a missing one, a value of the wrong kind or out of range is an error with file, line
// and column, and all of them are reported at once.
package sheet
