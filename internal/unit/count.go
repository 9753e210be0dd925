package unit

import "fmt"

// Count is a number with its noun: 1 row, 3 rows.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
