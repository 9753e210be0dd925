// Package control says of figures in the order in which they were made whether they scatter by chance alone: the
// control chart of individual values with limits of three sigma, after W. A. Shewhart, Economic Control of Quality of
// Manufactured Product, 1931, and the run rules of Western Electric's Statistical Quality Control Handbook, 1956 (both
// from memory, the constants as the NIST/SEMATECH e-Handbook of Statistical Methods has them, sections 6.3.2 and
// 6.3.2.2).
//
// It takes numbers and returns numbers. It never says that a batch is good or bad: a point outside is a reason to look
// for a cause.
package control
