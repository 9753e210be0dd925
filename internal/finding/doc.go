// Package finding is what the record of a site shows and a person should see: a Finding with the figures that it rests
// on, its limit and source, and the ids by which people answer it.
//
// It finds nothing: the rules are in packages mixed (a batch) and judge (all else). A key is made of what a finding is
// about and of nothing else, so that the same finding has the same id on every device.
package finding
