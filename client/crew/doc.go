// Package crew is the commands of a crew's day: a batch mixed and placed, what is left of it, joints treated, coats
// tended and finished, stock, shifts and notes. Each file is one command or a group; New… makes it.
//
// They fill a session.Draft from words and say what was understood. What was read from instruments is in package
// readings.
package crew
