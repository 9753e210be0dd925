package forecast

import (
	"math"
	"time"
)

// Wall is an instant by the clock on the site's wall: minutes since 1 January 1970, 00:00, counted as if no clock were
// ever put forward or back. Working hours are by that clock, and whole minutes of it are exact in a float64.
type Wall float64

// WallOf an instant, by the clock of its location.
func WallOf(t time.Time) Wall {
	y, m, d := t.Date()
	day := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400
	h, minute, s := t.Clock()
	return WallDay(int(day)) + Wall(h*60+minute) + Wall(s)/60
}

// WallDay is midnight of a day, counted from 1 January 1970.
func WallDay(day int) Wall { return Wall(day * 1440) }

// Day that w lies in, counted from 1 January 1970 (a Thursday).
func (w Wall) Day() int { return int(math.Floor(float64(w) / 1440)) }

// Minute of the day.
func (w Wall) Minute() float64 { return float64(w - WallDay(w.Day())) }

// In gives the instant, to the minute rounded up.
func (w Wall) In(in *time.Location) time.Time {
	y, m, d := time.Unix(int64(w.Day())*86400, 0).UTC().Date()
	return time.Date(y, m, d, 0, int(math.Ceil(w.Minute()-tie)), 0, 0, in)
}

// Job is all that a forecast rests on, in plain numbers: what is planned, what was done, and who does the rest.
type Job struct {
	Now      Wall
	Loss     float64 // planned: material that is mixed and does not stay, as a share of what does
	Mixes    []Mix   // each mix at each revision that was used or is planned
	Coats    []Coat  // in the order in which they are to be placed
	Crews    []Crew  // by name
	Calendar Calendar
	Changed  []Wall // when it was told that coats are placed differently from then on, by time
}

// Mix is one mix at one revision: its yield is one unknown.
type Mix struct {
	Name     string
	Revision int
	Yield    float64   // m³ of one batch as designed; above 0
	Logs     []float64 // ln(yield/design) of each weighed batch, in an order that does not change
}

// State of a coat.
type State int

// The states of a coat.
const (
	Untouched State = iota
	Open            // begun, and not finished: it takes more than it has
	Finished        // covered, called finished, or its crew went on to another
)

// Coat is one coat of one zone. Its luck goes by its name from one question to the next.
type Coat struct {
	Name    string
	Zone    string  // coats of one zone may go together
	Mix     int     // of Job.Mixes, that what it still takes is mixed from
	Design  float64 // m³, area times thickness, no loss
	State   State
	Begun   Wall    // first placement, where State is not Untouched
	Ended   Wall    // last placement; finished coats are learned from in the order of it
	Weighed float64 // m³ of what it has taken from weighed batches or by a stated volume
	Taken   []Taken // what it has taken of the others, by mix
	Gauges  int     // readings of its thickness
	Gauge   float64 // their mean, over the thickness planned
	Covered *Covered
	// share of all that it has taken that was its last batch, where the rest may have been thrown away unwritten
	Doubt float64
	Crews []int // of Job.Crews, that may place it; none: nobody said, and the record decides
	By    []int // crews that have placed in it, the last one last
	On    []int // crews that are at it: they placed it last and have not gone on; where Open
}

// Taken is what a coat has taken of unweighed batches of one mix.
type Taken struct {
	Mix     int
	Design  float64 // m³, by the design of those batches
	Shares  float64 // batches, whole and parts
	Squares float64 // sum of the squared shares
}

// Covered is the share of an open coat that its crew called covered, and what it had taken by then.
type Covered struct {
	Share float64 // above 0, below 1
	Taken float64 // of all that it has taken until now, the share that it had taken then; 1 if nothing came since
}

// Crew is a crew with its batches.
type Crew struct {
	Name    string
	Starts  []Start // of all its batches, by time
	Transit []Transit
}

// Start of one batch.
type Start struct {
	At     Wall // mixing began
	Ready  Wall // mixing ended
	Placed Wall // its last part was placed; 0 where none was
	Wasted bool // it was thrown away
}

// Transit is what was mixed of a mix and is neither placed nor thrown away.
type Transit struct {
	Mix     int
	Batches float64
	Squares float64 // sum of the squared shares
}

// Calendar is when the site works.
type Calendar struct {
	Days []Workday // from that of Job.Now on, one for each day
	// that the plan or the guess had as workdays between the first batch and today, to learn idle days from
	Worked []Workday
	Unfit  []Span // in which nothing is begun: weather forecast beyond the site's limits
}

// Workday is the working time of one day.
type Workday struct {
	Day      int     // counted from 1 January 1970
	From, To float64 // minutes of the day; none where To is not above From
	Chance   float64 // that it is worked at all as far as weekdays and dates say: 1, or less where it is guessed
	Group    int     // days of one group (such as Sundays) are worked all or none
}

// Span of time.
type Span struct{ From, To Wall }

// Draw is one possible rest of the job: its batches in the order in which they are begun.
type Draw struct {
	Weight  float64 // of all draws 1
	Batches []DrawBatch
}

// DrawBatch is one batch of a draw.
type DrawBatch struct {
	At   Wall // mixing begins
	Mix  int  // of Job.Mixes
	Coat int  // of Job.Coats, that its first part goes to
	Crew int  // of Job.Crews
}
