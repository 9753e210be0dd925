// Package leaf writes the pages that are opened in a browser, at the server's address and on a device from its own log:
// the foreman's page, one a zone, joint and event, the log, the charts, and the whole record as one file.
//
// It renders the views of package drawing, with the sheet of package report for whatever is a text and the pictures of
// package picture; in words, for a terminal, too (words.go). All text is escaped where it is put down; what changes
// with the clock is marked for the page's script. It computes no figure. To add a page: its view in package drawing, its
// function here, its route in package web.
package leaf
