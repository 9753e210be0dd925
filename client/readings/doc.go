// Package readings is the commands that write down what was measured: the weather, one reading or a file of a station's
// or of a forecast (weather.go, weather_file.go, weather_columns.go), temperatures of a curing coat, tests of fresh
// mortar, and specimens broken.
//
// A file is taken whole or not at all: a row that cannot be is refused by its line, or left out and written to a file
// of its own where --skip-bad names one.
package readings
