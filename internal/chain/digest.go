package chain

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"slices"
	"strings"

	"hod/internal/event"
)

// Digest of a log is SHA-256 over the heads of its devices, in the order of their names: two who hold the same
// events of a site get the same, and nobody else does. Heads are the last of each device; their order is of no account.
func Digest(site string, heads []Head) Hash {
	heads = slices.Clone(heads)
	slices.SortFunc(heads, func(a, b Head) int { return strings.Compare(string(a.Device), string(b.Device)) })
	sum := sha256.New()
	sum.Write([]byte("hod record 1\x00" + site + "\x00"))
	for _, h := range heads {
		if h.Seq == 0 { // of a device that wrote nothing, as one that was never heard of
			continue
		}
		sum.Write([]byte(string(h.Device) + "\x00"))
		sum.Write(binary.BigEndian.AppendUint64(nil, h.Seq))
		sum.Write(h.Chain[:])
	}
	return Hash(sum.Sum(nil))
}

// HeadsOf events, each once and each device's in its order from the first on.
func HeadsOf(site string, events []event.Event) []Head {
	at := map[event.Device]int{}
	var heads []Head
	for _, e := range events {
		i, known := at[e.Device]
		if !known {
			i = len(heads)
			at[e.Device] = i
			heads = append(heads, Head{Device: e.Device, Chain: Root(site, e.Device)})
		}
		heads[i] = heads[i].next(e)
	}
	return heads
}

// String is its hexadecimal digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }
