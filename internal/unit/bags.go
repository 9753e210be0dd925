package unit

import (
	"math"
	"strconv"
)

// Bags says how many bags, to a tenth: 1 bag, 39.7 bags, 120 bags.
func Bags(n float64) string {
	number := BagCount(n)
	if number == "1" {
		return "1 bag"
	}
	return number + " bags"
}

// BagCount is how many bags, to a tenth below a hundred, and whole where that is as near.
func BagCount(n float64) string {
	if math.Abs(n) < 100 {
		n = math.Round(10*n) / 10
	} else {
		n = math.Round(n)
	}
	return strconv.FormatFloat(n+0, 'f', -1, 64) // + 0: not -0
}
