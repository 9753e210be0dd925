// Package plan reads the plan of a site, or one mix, from a YAML file that a foreman wrote, and says how it differs
// from the plan that holds.
//
// It promises every mistake at once, each with its line, the zone or mix it is in, and what would be right; and that
// bytes of any kind end in a plan or in Mistakes, in bounded time and room. A plan that is given back passes the checks
// of package event, refers only to what it defines, and has mixes whose figures can be computed.
//
// It refuses to guess: an unknown key, a quantity without its unit or a coat that is skipped is a mistake, never a
// default. It opens no file, and writes nothing: Plan.Events gives what a device would write. What a figure should be
// is not judged beyond what cannot be; that is for the engineer whose plan it is.
//
// The form is shown by testdata/plan/vault.yaml, which is read by the tests. Start at Read; field.go has the reading of
// one value, Compare in compare.go the changes. To add a key, add it where its siblings are read.
package plan
