// Package device is the commands about this device and its record as a whole: joining a site, sending and fetching,
// what waits here, exports and imports as a file, and whether a record is as it was written.
package device
