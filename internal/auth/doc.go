// Package auth is what a device and its server know each other by: the code that a device joins with, what it signs for
// each call, and the link by which a foreman's device opens the site's pages.
//
// The code is
//
//	HOST:PORT/SECRET-FINGERPRINT
//
// SECRET is ten random bytes that the server takes once; FINGERPRINT is the first sixteen bytes of the SHA-256 of the
// site's certificate authority (its certificate, DER), so that a device knows the server it speaks to before it trusts
// it. Both are written in Crockford's base32, in groups of four, as people read them out and type them: upper and lower
// case are one, I and L are read as 1, O as 0, and a space may stand for a hyphen. A code that ParseCode takes is one
// that String gives again.
//
// What is signed begins with words of its own, so that no signature passes for another; they never change. The package
// draws no secret and opens no connection, and does not know who may do what. Start at Code, Call and Link; segments
// are signed in internal/chain.
package auth
