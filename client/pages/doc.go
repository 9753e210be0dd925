// Package pages shows this device's own copy of the record as web pages: live, at an address that only this device
// reaches, or as a file to send on. The pages themselves are those of the server, in internal/web.
//
// It promises to write nothing into the record, to need no network, and to answer nobody but this device: the address
// is on the loopback, holds a secret, and is answered only under its own name, so that no page from elsewhere can ask
// for it.
package pages
