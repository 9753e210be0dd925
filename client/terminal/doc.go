// Package terminal is how the commands of hod speak with a person or a script: the streams and what was said of them
// (Streams), the kinds of failure and their exit codes (Error), groups of commands, help and suggestions, times and
// tables as people write them, documents in JSON.
//
// It promises that results go to Stdout and all else to Stderr; that nothing which others wrote steers the terminal;
// that a question is put only to a person at one; and that a refusal says what was wrong and what would be right. It
// knows the units of measure and no other room of the project: no record, no event, no formula.
//
// To add a command start at NewCommand (group.go); to read a time, at TimeReader (when.go); a file of readings, at
// ReadTable (csv.go).
package terminal
