package auth

// The headers by which a device proves who calls: its name, the time (ms since 1970) and the hex of its Ed25519
// signature over Call.
const (
	DeviceHeader = "hod-device"
	TimeHeader   = "hod-time"
	ProofHeader  = "hod-signature"
)

// Call is what a device signs for one call of a method, so that no signature stands for another call or site.
func Call(site, device, method, time string) []byte {
	return []byte("hod call 1\x00" + site + "\x00" + device + "\x00" + method + "\x00" + time)
}

// NewKey is what both keys of a device sign when it goes on with another.
func NewKey(site, device string, public []byte) []byte {
	return append([]byte("hod new key 1\x00"+site+"\x00"+device+"\x00"), public...)
}
