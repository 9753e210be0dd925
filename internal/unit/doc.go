// Package unit holds the quantities that a site writes and reads: their types, their exact factors, how people write
// them and how they are shown.
//
// Inside hod everything is SI; what a person wrote is kept beside it and never converted back. No I/O, no state. To
// read what people write start at Parse; to show a quantity start at System.
package unit
