package readings

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hod/client/session/sessiontest"
	"hod/internal/event"
	"hod/internal/unit"
)

// answered gives a file and what a person answers to the questions about it.
func answered(t *testing.T, file, answers, line string) sessiontest.Ran {
	t.Helper()
	d := placed(t)
	path := write(t, file)
	d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader(answers)
	return d.Run(NewWeather, "weather --csv "+path+" --station mast --wind-height 2m "+line)
}

func airOf(t *testing.T, ran sessiontest.Ran) unit.Celsius {
	t.Helper()
	if ran.Err != nil || len(ran.Wrote) != 1 {
		t.Fatalf("%v, %d events:\n%s", ran.Err, len(ran.Wrote), ran.Side)
	}
	return *ran.Wrote[0].Body.(event.WeatherObserved).Samples[0].Air
}

func TestAColumnThatIsNotUnderstoodIsAskedAbout(t *testing.T) {
	const file = "time,air_c,gust_max\n2026-07-18 10:00,29,7\n"
	if ran := answered(t, file, "i\n", ""); airOf(t, ran) != 29 ||
		!strings.Contains(ran.Side, `The column "gust_max" of `) {
		t.Errorf("left out: %s", ran.Side)
	}
	ran := answered(t, file, "wind:m/s\n", "")
	if airOf(t, ran); *ran.Wrote[0].Body.(event.WeatherObserved).Samples[0].Wind != 7 {
		t.Errorf("taken as wind it is %+v", ran.Wrote[0].Body)
	}
	if ran := answered(t, file, "\n", ""); ran.Err == nil || len(ran.Wrote) > 0 ||
		!strings.Contains(ran.Err.Error(), "leave it out with --ignore gust_max") {
		t.Errorf("without an answer: %v", ran.Err)
	}
}

func TestAUnitThatIsNotSaidIsAskedFor(t *testing.T) {
	const file = "time,temp\n2026-07-18 10:00,68\n"
	if got := airOf(t, answered(t, file, "F\n", "")); !sessiontest.Near(float64(got), 20) {
		t.Errorf("in °F it is %g", got)
	}
	if ran := answered(t, file, "K\n", ""); ran.Err == nil ||
		!strings.Contains(ran.Err.Error(), "say the unit as in --take air=temp:") {
		t.Errorf("in kelvins: %v", ran.Err)
	}
}

// Air of 85 °C is none; as °F all the values fit.
func TestValuesThatOnlyFitInTheOtherUnitAreAskedAbout(t *testing.T) {
	const file = "time,temp_c\n2026-07-18 10:00,85\n2026-07-18 11:00,86\n"
	if ran := answered(t, file, "y\n", ""); !sessiontest.Near(float64(airOf(t, ran)), float64(unit.Fahrenheit(85))) ||
		!strings.Contains(ran.Side, "are beyond what the trade knows as °C") {
		t.Errorf("in °F: %s", ran.Side)
	}
	if ran := answered(t, file, "\n", ""); ran.Err == nil || len(ran.Wrote) > 0 ||
		!strings.Contains(ran.Err.Error(), "nothing was recorded; say --take air=temp_c:F, or --sure") {
		t.Errorf("without an answer: %v", ran.Err)
	}
}

// At 45 °F and a dew point of 30 the humidity is 55 %; 45 and 30 °C would make it 44 (Magnus).
func TestTemperaturesThatDoNotAgreeWithTheHumidityAreAskedAbout(t *testing.T) {
	file := "time,temp_c,dewp_c,humid\n"
	for _, hour := range []string{"08", "09", "10", "11"} {
		file += "2026-07-18 " + hour + ":00,45,30,55\n"
	}
	ran := answered(t, file, "y\n", "")
	if !strings.Contains(ran.Side, "do not agree with its humidity as °C") ||
		!sessiontest.Near(float64(airOf(t, ran)), float64(unit.Fahrenheit(45))) {
		t.Errorf("%v:\n%s", ran.Err, ran.Side)
	}
}

// write puts a text into a file.
func write(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "mast.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
