package water

import "fmt"

// Units as types, so that a temperature cannot be passed where a pH is meant.
type (
	// Celsius is a temperature in degrees Celsius.
	Celsius float64
	// PH is minus the decimal logarithm of the hydrogen ion's activity.
	PH float64
	// DegreeKH is alkalinity in German degrees of carbonate hardness (dKH).
	DegreeKH float64
	// MeqPerL is alkalinity in milliequivalents per litre.
	MeqPerL float64
	// MgPerL is a concentration in milligrams per litre.
	MgPerL float64
	// MolPerL is an ionic strength in moles per litre.
	MolPerL float64
	// Litre is a volume.
	Litre float64
	// Millimetre is a level.
	Millimetre float64
	// LitrePerHour is a flow.
	LitrePerHour float64
	// LitrePerDay is a slow flow.
	LitrePerDay float64
	// MgPerLHour is how fast a concentration is added to.
	MgPerLHour float64
	// PerHour is a share that goes, or a number of times it happens, within
	// an hour.
	PerHour float64
	// Hour is a length of time that may be infinite.
	Hour float64
	// Day is one in days, likewise.
	Day float64
	// Watt is a power.
	Watt float64
	// Kilogram is a mass.
	Kilogram float64
	// Millivolt is an electrode's potential.
	Millivolt float64
	// Pascal is a pressure.
	Pascal float64
)

// meqPerDegree: one German degree is 10 mg/l of CaO by definition (DIN), the
// molar mass of CaO is 56.0774 g/mol and one mole carries two equivalents.
const meqPerDegree = 20 / 56.0774

// mgCaCO3PerMeq is half the molar mass of CaCO3, 100.0869 g/mol.
const mgCaCO3PerMeq = 100.0869 / 2

// kelvinAtZero is 0 degrees Celsius in kelvin, exact by definition.
const kelvinAtZero = 273.15

// MeqPerL is the same alkalinity in meq/l.
func (k DegreeKH) MeqPerL() MeqPerL { return MeqPerL(float64(k) * meqPerDegree) }

// CaCO3 is the same alkalinity in mg/l of calcium carbonate.
func (k DegreeKH) CaCO3() MgPerL { return MgPerL(float64(k) * meqPerDegree * mgCaCO3PerMeq) }

// DegreeKH is the same alkalinity in German degrees.
func (m MeqPerL) DegreeKH() DegreeKH { return DegreeKH(float64(m) / meqPerDegree) }

func (t Celsius) kelvin() float64 { return float64(t) + kelvinAtZero }

func (t Celsius) String() string  { return fmt.Sprintf("%.1f Cel", float64(t)) }
func (p PH) String() string       { return fmt.Sprintf("pH %.2f", float64(p)) }
func (k DegreeKH) String() string { return fmt.Sprintf("%.1f dKH", float64(k)) }
func (c MgPerL) String() string   { return fmt.Sprintf("%.1f mg/l", float64(c)) }
