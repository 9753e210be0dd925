package setting

import (
	"fmt"
	"math"
	"time"

	"hod/internal/unit"
)

// The rules of thumb by which people on site judge set, for showing beside the mix's own figure. Common practice: they
// know nothing of a mix.

// noSetFahrenheit is where the trade's table says that concrete does not set: 20 °F.
const noSetFahrenheit = 20

// ThirdLonger is the set time at t by the rule that each 10 °F cooler adds one third, for a mix that takes initial at
// ref. Common practice, no source (SET-10). An error at 20 °F and below, where nothing sets.
func ThirdLonger(initial time.Duration, ref, t unit.Celsius) (time.Duration, error) {
	return rule(initial, ref, t, 4.0/3, 10)
}

// DoubledPer20F is the set time at t by the rule that 20 °F cooler doubles it, for a mix that takes initial at ref. A
// contractors' cold-weather leaflet (NRMCA, from memory; SET-12); coarser than ThirdLonger. An error at 20 °F and
// below.
func DoubledPer20F(initial time.Duration, ref, t unit.Celsius) (time.Duration, error) {
	return rule(initial, ref, t, 2, 20)
}

func rule(initial time.Duration, ref, t unit.Celsius, factor, each float64) (time.Duration, error) {
	if initial <= 0 || initial > Longest {
		return 0, fmt.Errorf("set time %s must be above 0 and at most %s", unit.Duration(initial),
			unit.Duration(Longest))
	}
	for _, x := range []unit.Celsius{ref, t} {
		if err := CheckTemperature(x); err != nil {
			return 0, err
		}
		if x.Fahrenheit() <= noSetFahrenheit {
			return 0, fmt.Errorf("at %.4g °F the trade's table has no set at all; the rule holds above %d °F",
				x.Fahrenheit(), noSetFahrenheit)
		}
	}
	cooler := ref.Fahrenheit() - t.Fahrenheit()
	return time.Duration(math.Round(float64(initial) * math.Pow(factor, cooler/each))), nil
}

// TradeTable is the contractors' table of set times by temperature, widely reprinted (100 and 80 °F and the end near
// freezing seen in print, the rest from memory; SET-09). Good to about a quarter; at 20 °F it says that concrete does
// not set.
var TradeTable = []SetAt{
	{unit.Fahrenheit(100), 100 * time.Minute},
	{unit.Fahrenheit(90), 160 * time.Minute},
	{unit.Fahrenheit(80), 4 * time.Hour},
	{unit.Fahrenheit(70), 6 * time.Hour},
	{unit.Fahrenheit(60), 8 * time.Hour},
	{unit.Fahrenheit(50), 10*time.Hour + 45*time.Minute},
	{unit.Fahrenheit(40), 14*time.Hour + 30*time.Minute},
	{unit.Fahrenheit(30), 19 * time.Hour},
}
