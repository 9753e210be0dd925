// Package forms is what a crew takes to the mixer on paper: the card of a mix for the sand as it is today, and blank
// forms for a day without a phone, each line in the order in which the command asks for it later.
//
// It promises the amounts that hod batch writes down for the same moisture and size. It computes nothing that mixplan
// and the trade do not. No I/O.
package forms
