// Package spelling finds the name that somebody meant who typed another: in commands, in the plan's file.
package spelling

import "strings"

// Nearest is the name most like word, or none if none is like it: at most a third of its letters differ, at least one
// may.
func Nearest(word string, names []string) string {
	best, least := "", max(1, (len([]rune(word))+2)/3)+1
	for _, n := range names {
		if d := Distance(strings.ToLower(word), strings.ToLower(n)); d < least {
			best, least = n, d
		}
	}
	return best
}

// Distance is the count of letters put in, left out, changed or swapped with their neighbour that makes b of a.
func Distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 64 || len(y) > 64 {
		return 64
	}
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(x)][len(y)]
}

// Suggest ends a sentence that something is not there: with the nearest name, else with all of them, most at most.
func Suggest[S ~string](word string, names []S, most int) string {
	all := make([]string, len(names))
	for i, n := range names {
		all[i] = string(n)
	}
	switch near := Nearest(word, all); {
	case near != "":
		return "; did you mean " + near + "?"
	case len(all) == 0:
		return ""
	case len(all) > most:
		return "; there are " + strings.Join(all[:most], ", ") + " …"
	}
	return "; there are " + strings.Join(all, ", ")
}
