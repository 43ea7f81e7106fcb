// Package timing holds the arithmetic of setting ignition timing by hand: lengths and angles as people type them, the
// crank, the dial gauge, the specification, and the error at the opening of the points with its uncertainty and verdict.
//
// Symbols and units:
//
//   - r crank radius, l rod length between centres, e pin offset [mm]
//   - b crank angle before top dead centre (BTDC) [degrees], negative after it
//   - travel: distance of the piston below its position at top dead centre, along the bore [mm], 0 or more
//   - y movement of the dial's plunger from top dead centre [mm]; the dial is read in its own unit
//   - alpha angle of the plunger to the bore, beta slope of the piston crown under its tip [degrees]
//   - error: travel at the opening less the specified travel; positive = early = further before top dead centre
//   - u standard uncertainty, nu degrees of freedom (JCGM 100)
//
// Length is always millimetres and Angle always degrees. The package knows nothing of sound; it never prints or logs.
package timing
