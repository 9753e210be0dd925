// Package notices holds the licences of what others wrote and hod and hodd are built with: Go itself and every module
// that a program links. Each of them asks that its notice goes with the programs, so the text is in both, and `hod
// version --licences` and `hodd version --licences` print it.
//
// The text is made from the modules themselves, by
//
//	go run ./internal/tools/notices
//
// which refuses a licence that it does not know to be permissive. `.ci/run generated` makes it anew and compares. Run
// it after a change of go.mod.
package notices

import _ "embed"

// Text names each module with its version and licence, and then gives the licences in full, each once.
//
//go:embed notices.txt
var Text string
