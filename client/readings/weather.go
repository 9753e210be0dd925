package readings

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/proto/hod/v1"
)

// weather is one observation, or a file of hourly ones, read or forecast.
type weather struct {
	air, humidity, dewPoint, wind, sun, rain, surface string
	height, station                                   string
	when                                              session.MomentFlags
	file                                              weatherFile
}

// NewWeather makes hod weather.
func NewWeather(env *session.Env) *cobra.Command {
	var w weather
	c := env.NewCommand("weather", "Write down the weather as read, or a file of it",
		"hod weather --air 29C --humidity 62% --wind 12mph --wind-height 2m",
		"hod weather --air 85F --dew-point 66F --at 14:00",
		"hod weather --csv july.csv --wind-height 10m --from 2026-07-18 --until 2026-07-19",
		"hod weather --csv tomorrow.csv --forecast --station \"county office\" --wind-height 10m")
	c.Long = "The columns of a file are known by the usual names or said with --take air=T_out; units are taken from the header, else " +
		"said, as in --take air=T_out:F. Nothing is recorded before each column is understood, or left out with --ignore. Either all of the file is recorded or, where a row cannot be taken, nothing."
	f := c.Flags()
	f.StringVar(&w.air, "air", "", "air temperature: 29C")
	f.StringVar(&w.humidity, "humidity", "", "relative humidity: 62%")
	f.StringVar(&w.dewPoint, "dew-point", "", "dew point: 19C")
	f.StringVar(&w.wind, "wind", "", "mean wind: 12mph, 5m/s")
	f.StringVar(&w.height, "wind-height", "",
		"height above the surface at which the wind was read: 2m, 10m at most airfields")
	f.StringVar(&w.sun, "sun", "", "sun, W/m²: 800")
	f.StringVar(&w.rain, "rain", "", "rain in the hour before: 2mm, 0.1in")
	f.StringVar(&w.surface, "surface", "", "temperature of the fresh surface: 31C")
	f.StringVar(&w.station, "station", "", "where it was read (default: site, or the file's name)")
	w.when.Register(f)
	w.file.flags(f)
	env.SureFlag(f)
	c.AddCommand(newWeatherNow(env))
	c.RunE = func(c *cobra.Command, _ []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			if w.file.path != "" {
				return w.file.run(c.Context(), s, w)
			}
			return w.run(c.Context(), s)
		})
	}
	return c
}

func newWeatherNow(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("now", "The weather as last read, and what it does to a fresh surface", "hod weather now",
		"hod weather now --server")
	l.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := session.View(c.Context(), env, l,
			func(s *session.Session) (view.Conditions, error) {
				v, ok := view.WeatherOf(s.Fold, s.Now, s.Location)
				if !ok {
					return v,
						terminal.NotFoundf(
							"no weather is in the record on this device; write it down, as in `hod weather --air 29C --humidity 62%% --wind 12mph --wind-height 2m`")
				}
				return v, nil
			},
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.Weather(ctx, &hodv1.WeatherRequest{At: at})
				return r.GetWeather(), err
			})
		if err != nil {
			return err
		}
		defer s.Close()
		return env.Show("weather-view", v, report.Weather(v, s.Page()))
	}
	return c
}

// weatherKept is the document hod.weather.v1, and hod.forecast.v1 of what was told.
type weatherKept struct {
	session.Kept
	Events     []string           `json:"events"`
	Station    string             `json:"station"`
	WindHeight *terminal.Quantity `json:"wind_height,omitempty"`
	Readings   int                `json:"readings"`
	// readings of this station and time that were in the record already, left out
	Known   int            `json:"known"`
	Outside int            `json:"outside"` // rows outside --from and --until, left out
	Skipped int            `json:"skipped"` // bad rows, left out and written elsewhere
	Missing []missing      `json:"missing,omitempty"`
	From    terminal.Stamp `json:"from"`
	To      terminal.Stamp `json:"to"`
}

// missing counts the values that one column lacks.
type missing struct {
	Column string `json:"column"`
	Values int    `json:"values"`
}

func (w weather) run(ctx context.Context, s *session.Session) error {
	one, said, err := w.read(s)
	if err != nil {
		return err
	}
	if len(said) == 0 {
		return terminal.Usagef(
			"nothing was read; say for instance --air 29C --humidity 62%% --wind 12mph --wind-height 2m, or a file with --csv")
	}
	at, _, err := w.when.Read(s)
	if err != nil {
		return err
	}
	body := event.WeatherObserved{Station: w.station, Entered: strings.Join(said, ", ")}
	if body.Station == "" {
		body.Station = "site"
	}
	if body.WindHeight, err = windHeight(s, w.height, one.Wind != nil, body.Station); err != nil {
		return err
	}
	d := session.Draft{At: at, Typed: !at.IsZero()}
	if one.At = at; at.IsZero() {
		one.At = s.Env.Now()
	}
	body.Samples = []event.Weather{one}
	d.Body = body
	k, err := s.Keep(ctx, d)
	if err != nil {
		return err
	}
	if is := k.Body.(event.WeatherObserved).Samples[0]; is != one {
		one, said = is, weatherWords(s, is)
	}
	k.Text = fmt.Sprintf("weather: %s (%s)%s", strings.Join(said, ", "), body.Station, s.AtTime(d.At))
	k.Next = drying(s, k.Name)
	s.AddWarnings(&k)
	doc := weatherKept{
		Kept: k, Events: []string{k.Event}, Station: body.Station, Readings: 1,
		From: terminal.Stamp(one.At), To: terminal.Stamp(one.At),
	}
	if body.WindHeight.SI > 0 {
		q := terminal.QuantityOf(body.WindHeight, "m")
		doc.WindHeight = &q
	}
	return s.Tell(k, doc)
}

// read gives the observation and, in both systems, what was understood.
func (w weather) read(s *session.Session) (one event.Weather, said []string, err error) {
	read := func(name, value string, into func() (string, error)) {
		if value == "" || err != nil {
			return
		}
		text, e := into()
		if err = terminal.InFlag(name, e); err == nil {
			said = append(said, text)
		}
	}
	temperature := func(name, value, what string, to **unit.Celsius) {
		read(name, value, func() (string, error) {
			t, err := unit.Said(value, unit.ParseTemperature)
			*to = &t.SI
			return what + unit.Both(s.Units, t, unit.System.Temperature), err
		})
	}
	temperature("air", w.air, "air ", &one.Air)
	read("humidity", w.humidity, func() (string, error) {
		h, err := unit.Said(w.humidity, unit.ParseShare)
		one.Humidity = &h.SI
		return "humidity " + unit.Both(s.Units, h, unit.System.Share), err
	})
	temperature("dew-point", w.dewPoint, "dew point ", &one.DewPoint)
	read("wind", w.wind, func() (string, error) {
		v, err := unit.Said(w.wind, unit.ParseSpeed)
		one.Wind = &v.SI
		return "wind " + unit.Both(s.Units, v, unit.System.Speed), err
	})
	read("sun", w.sun, func() (string, error) {
		v, err := parse.Sun(w.sun)
		one.SunWattPerM2 = &v
		return fmt.Sprintf("sun %.0f W/m²", v), err
	})
	read("rain", w.rain, func() (string, error) {
		l, err := unit.Said(w.rain, unit.ParseLength)
		mm := float64(l.SI) * 1000
		one.RainMillimetres = &mm
		return "rain " + unit.Both(s.Units, l, unit.System.Thickness), err
	})
	temperature("surface", w.surface, "surface ", &one.SurfaceTemperature)
	return one, said, err
}

// weatherWords is what was understood where a value was read in another unit than was typed.
func weatherWords(s *session.Session, w event.Weather) []string {
	var all []string
	temperature := func(name string, t *unit.Celsius) {
		if t != nil {
			all = append(all, name+" "+unit.Both(s.Units, unit.Computed(*t), unit.System.Temperature))
		}
	}
	temperature("air", w.Air)
	if w.Humidity != nil {
		all = append(all, "humidity "+s.Units.Share(*w.Humidity))
	}
	temperature("dew point", w.DewPoint)
	if w.Wind != nil {
		all = append(all, "wind "+unit.Both(s.Units, unit.Computed(*w.Wind), unit.System.Speed))
	}
	if w.SunWattPerM2 != nil {
		all = append(all, fmt.Sprintf("sun %.0f W/m²", *w.SunWattPerM2))
	}
	if w.RainMillimetres != nil {
		all = append(all, "rain "+unit.Both(s.Units, unit.Computed(unit.Length(*w.RainMillimetres)*unit.Millimetre),
			unit.System.Thickness))
	}
	temperature("surface", w.SurfaceTemperature)
	return all
}

// windHeight is the height said; else that of the station's last reading; else it must be said, where there was wind.
func windHeight(s *session.Session, said string, windy bool, station string) (unit.As[unit.Length], error) {
	if said != "" {
		h, err := unit.Said(said, unit.ParseLength)
		return h, terminal.InFlag("wind-height", err)
	}
	if !windy {
		return unit.As[unit.Length]{}, nil
	}
	var last event.WeatherObserved
	var at time.Time
	for _, r := range s.Fold.Records() {
		if b, ok := r.Now.(event.WeatherObserved); ok && b.Station == station && b.WindHeight.SI > 0 &&
			!r.When.Before(at) {
			last, at = b, r.When
		}
	}
	if last.WindHeight.SI > 0 {
		return last.WindHeight, nil
	}
	return unit.As[unit.Length]{},
		terminal.Usagef(
			"the wind was read at some height above the surface: add --wind-height 2m at the shell, 10m at most airfields; later readings of this station take it over")
}

// drying says what the air of a reading does to a fresh surface; of one that is not full, what the last full one says.
func drying(s *session.Session, name event.Name) string {
	read, _ := s.Fold.Weather()
	for _, k := range read {
		if k.Record.Name != name {
			continue
		}
		if !k.Full() {
			return dryingBefore(s)
		}
		surface, of := *k.Air, "as warm as the air"
		if k.SurfaceTemperature != nil {
			surface, of = *k.SurfaceTemperature, "at "+s.Units.Temperature(*k.SurfaceTemperature)
		}
		rate, err := s.Plan.DryingAt(k, surface)
		if err != nil {
			return ""
		}
		shown := rate.SI.Rate
		if s.Units == unit.US {
			shown = rate.US.Rate
		}
		text := "a fresh surface " + of + " dries at " + unit.Both(s.Units, unit.Computed(shown),
			unit.System.Evaporation)
		if rate.Over {
			text += ", over the site's limit: shade, fog or cover it"
		}
		return text
	}
	return ""
}

// dryingBefore is what the last full reading says of now, as long as it counts.
func dryingBefore(s *session.Session) string {
	c, ok := view.WeatherOf(s.Fold, s.Now, s.Location)
	switch {
	case !ok:
		return ""
	case c.TooOld != "":
		return c.TooOld
	case c.EvaporationKgM2H == nil:
		return "how fast a fresh surface dries takes air, humidity and wind, read together"
	}
	shown := unit.Evaporation(*c.EvaporationKgM2H)
	if s.Units == unit.US {
		shown = unit.Evaporation(*c.EvaporationLbFt2H) * unit.PoundPerSquareFootHour
	}
	text := fmt.Sprintf("by the last full reading, of %s, a fresh surface dries at %s", s.FormatTime(*c.ReadAt),
		unit.Both(s.Units, unit.Computed(shown), unit.System.Evaporation))
	if *c.OverLimit {
		text += ", over the site's limit: shade, fog or cover it"
	}
	return text
}
