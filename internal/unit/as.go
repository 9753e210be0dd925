package unit

// As is a quantity together with the words in which a person gave it; Entered is empty where a program computed it.
type As[Q any] struct {
	SI      Q
	Entered string
}
