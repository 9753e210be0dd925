// Package air is the weather through time, as it was read and as it was forecast: what the air was at an instant and
// where that is from.
//
// Between two readings near enough to each other it goes straight from one to the next; a reading goes before a
// forecast, and what rests on neither says that it is assumed. It judges nothing.
package air
