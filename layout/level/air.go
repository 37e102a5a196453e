package level

import "math"

// Air is what sound passes through.
type Air struct {
	C           float64 // temperature in degrees Celsius
	HumidityPct float64 // relative humidity
}

// AbsorptionDBPerM is what a meter of air takes off a tone of f Hz, in dB, at 101.325 kPa: ISO 9613-1:1993, equations 3
// to 5, within 0.1 % of its printed Table 1 (testdata/iso9613_1_table1_points.csv). The standard claims +-10 %.
func (a Air) AbsorptionDBPerM(f float64) float64 {
	t := (a.C + 273.15) / 293.15
	// h is the molar concentration of water vapor, in percent.
	h := a.HumidityPct * math.Pow(10, -6.8346*math.Pow(273.16/(a.C+273.15), 1.261)+4.6151)
	oxygen := 24 + 4.04e4*h*(0.02+h)/(0.391+h)
	nitrogen := (9 + 280*h*math.Exp(-4.170*(math.Pow(t, -1./3)-1))) / math.Sqrt(t)
	return 8.686 * f * f * (1.84e-11*math.Sqrt(t) + math.Pow(t, -2.5)*
		(0.01275*math.Exp(-2239.1/(a.C+273.15))/(oxygen+f*f/oxygen)+
			0.1068*math.Exp(-3352.0/(a.C+273.15))/(nitrogen+f*f/nitrogen)))
}

// absorption is AbsorptionDBPerM at the midbands.
func (a Air) absorption() (perM Bands) {
	for b, f := range MidbandsHz {
		perM[b] = a.AbsorptionDBPerM(f)
	}
	return perM
}

const (
	airPerM = 2       // rows of the table in a meter
	airRows = 256 * 2 // up to 256 m
	nearM   = 0.5     // no distance counts as less
)

// solidDB is the power of a source over its level at 1 m where it sounds the same all around, 10 lg(4 pi).
var solidDB = Decibels(4 * math.Pi)

// slopedRow is a row of a table of energies, and how much more the next one has. Between them a table is on a straight line.
type slopedRow struct{ at, rise Energies }

// joinRows sets the rise of each row but the last.
func joinRows(rows []slopedRow) {
	for i := range len(rows) - 1 {
		for b := range rows[i].at {
			rows[i].rise[b] = rows[i+1].at[b] - rows[i].at[b]
		}
	}
}

// airTable is the share of the energy that is left after r meters, at r = 0, 1/2, 1 ... It is right to 0.001 dB where a
// band loses less than 0.3 dB a meter.
type airTable [airRows + 1]slopedRow

func newAirTable(perM Bands) *airTable {
	t := new(airTable)
	for i := range t {
		t[i].at = left(perM, float64(i)/airPerM)
	}
	joinRows(t[:])
	return t
}

// left is the share of the energy that is left after r meters.
func left(perM Bands, r float64) (e Energies) {
	for b, v := range perM {
		e[b] = Energy(-v * r)
	}
	return e
}
