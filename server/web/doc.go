// Package web shows a site's log as pages to whoever holds a link that a foreman made.
//
// It promises that nothing can be written through it: it answers GET and HEAD, and holds the log only to read it. A
// link is looked at anew for every page: it opens nothing once it ran out, or once the device that made it was revoked.
// The pages are the same views as everywhere, put down by internal/report; they need no script, load nothing from
// elsewhere, tell nobody where they were opened from, and are kept by no cache. Text from events is escaped.
//
// It refuses to compute, and to show who has opened what. The pages are listed in pages.go; who may open them is in
// link.go.
//
// # Decisions
//
// Pages are opened by a link that the foreman's device signs (internal/auth). Not by sessions or passwords: the
// server keeps nothing, a link ends by its expiry or with its device, and is looked at anew for each page. The pages
// are the reports, with HTML as a third way to put a line down (internal/report/html.go), so nothing is computed or
// worded twice.
package web
