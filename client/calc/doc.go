// Package calc is hod calc: the trade's computations asked directly, with no record. It makes the group of commands,
// and those of areas, batches and control charts; batching has those of a mix and what is charged, hardening those of
// weather, setting and strength. What a calculation prints is a sheet.Sheet.
//
// It imports no journal, bus, fold or session: a calculation looks at what was typed and at files that were named.
package calc
