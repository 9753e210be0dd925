// Package sim is a site that invents itself: crews, their batches and barrows, the weather, and what goes wrong. The
// demonstration, tests and benchmarks take their events from it.
//
// The same seed gives the same days. Work says what a crew would write and when: the demonstration has real devices
// write it, and Written has invented ones, for tests. Nobody and nothing in it exists. Start at Job.
//
// The tests of this package put a whole site through two weeks of faults; start there at simulation_test.go.
package sim
