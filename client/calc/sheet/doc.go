// Package sheet is what every calculation prints: the inputs as they were understood, the figures in both systems, the
// formulas with their sources, the limits of standards and how the figures stand to them, warnings and cautions.
//
// Asked and its kin read a flag and note it on the sheet; Print writes the sheet in words, or the document that embeds
// it.
package sheet
