package terminal

import (
	"strings"

	"hod/internal/confusable"
	"hod/internal/spelling"
)

// Suggest ends a sentence that something is not there: with the nearest name, else with all of them.
func Suggest[S ~string](word string, names []S) string { return spelling.Suggest(word, names, 12) }

// PickName finds a name as it was planned, in any case.
func PickName[N ~string](what, word string, names []N) (N, error) {
	for _, n := range names {
		if string(n) == word {
			return n, nil
		}
	}
	var fit []N
	for _, n := range names {
		if strings.EqualFold(string(n), word) {
			fit = append(fit, n)
		}
	}
	switch len(fit) {
	case 1:
		return fit[0], nil
	case 0:
		if near, which := confusable.Stray(word, names); near != "" {
			return "", NotFoundf("no %s %q is planned, and it looks like %s: %s", what, Safe(word), near, which)
		}
		return "", NotFoundf("no %s %q is planned%s", what, Safe(word), Suggest(word, names))
	}
	return "", NotFoundf("%s %q fits %s; write it as it is planned", what, Safe(word), JoinNames(fit))
}

// JoinNames puts commas between names.
func JoinNames[N ~string](names []N) string {
	all := make([]string, len(names))
	for i, n := range names {
		all[i] = string(n)
	}
	return strings.Join(all, ", ")
}
