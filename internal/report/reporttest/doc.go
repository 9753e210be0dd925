// Package reporttest is what the tests of reports, pages and summaries share: the views of an invented site on one
// afternoon, golden files and how a text is compared with them, and views that hold whatever a stranger could write,
// with what must be so of a text or a part of a web page all the same.
//
// For tests alone; nothing that ships imports it. Start at Folder, Write and Board.
package reporttest
