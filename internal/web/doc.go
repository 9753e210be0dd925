// Package web shows a site's record as pages: the one implementation for the server, which opens them by a link, and
// for a device, which shows its own copy to itself.
//
// It promises that nothing can be written through it, that a page loads nothing from elsewhere, needs no script, tells
// nobody where it was opened from and is kept by no cache, and that all text from events is escaped. With its one small
// script an open page is live: it hears of each change, keeps focus, scroll and what was folded out, counts down from
// instants that it was given, and says how old what it shows is when it hears nothing. The script does no arithmetic of
// the trade.
//
// It refuses to know where the record lies, who may read it, and what time it is: the record, and the clock, are a
// Record. It opens no socket and no file: it is handlers. The pages are listed in pages.go; their words and pictures
// are package report's.
//
// The tests that look at them in a browser have the tag browser; see browser_test.go.
package web
