// Package foldtest is what tests of the fold and of its rooms write and ask with: a desk at which events of a small
// invented site are written by hand, and short words for the bodies and times in them.
package foldtest
