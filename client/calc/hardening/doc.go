// Package hardening is the calculations of mortar after it is placed: evaporation, cold and hot weather, setting and
// the time between coats, heat, maturity, strength and the tests of it, moist curing.
package hardening
