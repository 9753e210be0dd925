//go:build !unix

package journal

// writable leaves it to the first write to find out.
func writable(string) error { return nil }
