// Package batching is the calculations of a mix and of what is charged: proportions, yield, moisture of sand, foam,
// fibre, admixtures, temperature as mixed, weighing tolerances, and whether a batch should still be mixed today.
package batching
