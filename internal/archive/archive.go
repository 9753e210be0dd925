// Package archive is the portable form of a site's log: a file that a device exports, a person carries on a stick, a
// server appends to and a backup copies. It holds segments as their devices signed them.
//
// It promises that a reader of any bytes at all uses little memory and never panics; that an entry which is damaged is
// named by where it lies and costs nothing but itself; and that a closed file tells what was in it when it was closed.
// Check finds out from nothing but the site's root key whether what was read is the devices' own, unbroken and
// uncontradicted. It opens no file: a program hands it a reader. It decides nothing about what the events mean.
//
// The form is in form.go; read on at reader.go, writer.go and check.go.
package archive
