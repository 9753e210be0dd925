package foldtest

func Near(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 }
