// Package handbook holds the pages for people against the code: DEVELOPERS.md, README.md and what lies in deploy.
//
// It promises that what those pages name is there: a path, a package, a function in a file, a test, a step of .ci/run,
// a command of hod or hodd, and the value of a limit. It is tests only, and judges no sentence: what a page says of a
// thing is for its reader to check. Start at names_test.go; the table of limits is read in limits_test.go.
package handbook
