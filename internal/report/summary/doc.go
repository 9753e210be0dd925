// Package summary writes the reports that are read when the work is over: the day, on a screen and as the two pages
// that are signed, and the whole record as it is handed over with the shell.
//
// It renders the views of packages daily and handover on the sheet of package report, and promises what that promises;
// every figure is the view's own. No I/O. Start at Day in day_short.go.
//
// # Decisions
//
// A day's report is two printed pages (day_short.go): 120 lines, exceptions first. The roomiest of a few layouts that
// fits is taken, and each list that is cut says how many more there are. All of it is DayAll, behind --all, and on
// web pages, which scroll. Not a cut at line 120: what is cut must not be the stock or the next day.
package summary
