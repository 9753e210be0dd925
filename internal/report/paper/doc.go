// Package paper lays a report out on paper, as a PDF in black and white.
//
// A report is written once, as the markup of a part of a page; paper reads that markup back and sets its headings,
// paragraphs, tables and pictures. A sheet can therefore say nothing, and no other figure, than the page and the
// terminal.
//
// It promises the same bytes for the same parts; a table's head again on each page; no break inside a row that one page
// can hold; a foot with what the paper is of, its digest and the page of how many; every letter that the typeface has,
// and U+FFFD with a sentence for one that it has not. It refuses to compute, and reads no clock: when the file was made
// is an argument.
//
// What the library cannot do: it writes no structure tree, so a reader's voice gets words in their order, the language,
// the title and bookmarks, and no tags; letters that join, as Arabic's do, stand apart. Start at Make.
//
// # Decisions
//
// The markup is the form between report and paper, not a tree of its own: the reports have one form of output less, and
// the pictures are the SVG that the pages show. Not a browser's print: a phone has none that a command could call.
package paper
