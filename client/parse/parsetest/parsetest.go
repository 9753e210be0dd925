// Package parsetest holds lines that a crew might type. Only tests import it.
package parsetest

import "strings"

// Lines are what the fuzz tests of everything that reads words begin with: lines as they are meant, and what looks like
// one and is none.
var Lines = []string{
	"7 A1 1/2", "A1", "a1 40l", "north/7 A1", "north/2026-07-18/7 A1 rest", "A1 outer 1", "outer 1 12mm body",
	"B3=2.4m", "south/999", "n2/1", "1", "2/1",
	"sand=190lb,kind=sand,gravity=2.62,absorption=1%", "sand=rest,gravity=2.62", "+water=1qt",
	"water 3/4, wait 2min, look flows by itself", "=", "sand=", "cement=1kg,gravity=NaN",
	"40x94lb", "1e6x1kg", "NaNx1kg", "0x1p3%", "110%", "NaN%", "Inf%", "800 W/m2", "nan", "53kN,54kN",
	"12mm,14mm,13 mm", "-5C", "--wind -5C", "none", "0", "½", "1e400", "\x1b[2J",
	"north/7/7/7", "/", "//", "yesterday 16:10", "2026-07-18", "0000-00-00", strings.Repeat("9", 40),
	strings.Repeat("A", 100),
}
