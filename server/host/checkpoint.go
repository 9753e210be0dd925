package host

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/store"
)

// position names a message of the stream by its number and the hash of its bytes. The number alone is not enough: after
// damage a stream gives out the same numbers again for other messages.
type position struct {
	Seq  uint64     `json:"seq"`
	Hash event.Hash `json:"hash,omitzero"` // SHA-256 of the message
}

func positionOf(m bus.Message) position { return position{m.Seq, sha256.Sum256(m.Data)} }

// checkpoint is how far the stream was read. It is saved, so that a restart need not read the stream from its
// beginning.
type checkpoint struct {
	// Settled is the last message before which no segment is pending; a restart reads on from there.
	Settled position `json:"settled"`
	// Top is the last message that was read.
	Top position `json:"top"`
	// Lost is how many messages the stream counted as lost when it was last read.
	Lost uint64 `json:"lost"`
	// Seen is which events of each device the stream was seen to hold, as runs from a first to a last seq.
	Seen map[event.Device][]run `json:"seen"`
}

// read records that a message was read. It only moves Top forward: what was pending at the last stop is read twice.
func (p *checkpoint) read(m bus.Message) position {
	at := positionOf(m)
	if at.Seq >= p.Top.Seq {
		p.Top = at
	}
	return at
}

func (p *checkpoint) settle(at position) {
	if at.Seq >= p.Settled.Seq {
		p.Settled = at
	}
}

// run is a range of consecutive events of one device, both ends included.
type run [2]uint64

// saw adds a run, and merges it with those that it overlaps or touches.
func (p *checkpoint) saw(d event.Device, first, last uint64) {
	if p.Seen == nil {
		p.Seen = map[event.Device][]run{}
	}
	runs := p.Seen[d]
	i := 0
	for i < len(runs) && runs[i][1]+1 < first {
		i++
	}
	j := i
	for j < len(runs) && runs[j][0] <= last+1 {
		first, last = min(first, runs[j][0]), max(last, runs[j][1])
		j++
	}
	p.Seen[d] = slices.Replace(runs, i, j, run{first, last})
}

// has reports whether the stream was seen to hold every event of a run.
func (p *checkpoint) has(d event.Device, first, last uint64) bool {
	for _, r := range p.Seen[d] {
		if r[0] <= first && last <= r[1] {
			return true
		}
	}
	return false
}

func (p *checkpoint) clone() checkpoint {
	c := *p
	c.Seen = make(map[event.Device][]run, len(p.Seen))
	for d, runs := range p.Seen {
		c.Seen[d] = slices.Clone(runs)
	}
	return c
}

// reachedFile is the name of the file in the data folder that holds reached.
const reachedFile = "reached.json"

// reached is what a restart need not do again: verify, and read the stream. It is signed with the root key, so that
// whoever can write the folder but has no key cannot vouch for a segment. Losing it costs time only.
type reached struct {
	Stream    checkpoint        `json:"stream"`
	Heads     []store.SavedHead `json:"heads"`
	Signature string            `json:"signature,omitempty"`
}

func (r reached) signed(site string) ([]byte, error) {
	r.Signature = ""
	text, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("encode %s: %w", reachedFile, err)
	}
	return append([]byte("hod reached 1\x00"+site+"\x00"), text...), nil
}

// saveCheckpoint writes how far the stream was read, if that changed. It is not flushed: an old or a torn one is
// harmless. The caller holds writing.
func (h *Host) saveCheckpoint() error {
	if !h.unsaved || h.broken != nil {
		return nil
	}
	r := reached{Stream: h.checkpoint.clone()}
	for _, head := range h.chains.Heads() {
		r.Heads = append(r.Heads, store.SavedHead{Device: head.Device, Seq: head.Seq, Chain: event.Hash(head.Chain)})
	}
	message, err := r.signed(h.folder.Site)
	if err != nil {
		return err
	}
	r.Signature = hex.EncodeToString(ed25519.Sign(h.folder.Key, message))
	text, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("encode %s: %w", reachedFile, err)
	}
	path := filepath.Join(h.folder.Dir(), reachedFile)
	if err := store.ReplaceUnflushed(path, text); err != nil {
		return err
	}
	h.unsaved = false
	return nil
}

// readReached gives nothing where the file is missing, damaged, or not signed by the root key.
func readReached(dir string, id store.Identity) (reached, error) {
	text, err := store.ReadFile(filepath.Join(dir, reachedFile))
	if err != nil {
		return reached{}, err
	}
	return reachedOf(text, id)
}

func reachedOf(text []byte, id store.Identity) (reached, error) {
	var r reached
	if err := json.Unmarshal(text, &r); err != nil {
		return reached{}, fmt.Errorf("decode %s: %w", reachedFile, err)
	}
	signature, err := hex.DecodeString(r.Signature)
	if err != nil {
		return reached{}, fmt.Errorf("decode the signature of %s: %w", reachedFile, err)
	}
	message, err := r.signed(id.Site)
	if err != nil {
		return reached{}, err
	}
	if !ed25519.Verify(id.Public(), message, signature) {
		return reached{}, fmt.Errorf("%s is not signed by the site's key", reachedFile)
	}
	return r, nil
}

// trusted reports whether a head lies within what was verified before a restart, so that its signature need not be
// checked again. Whether its hash is the one that was verified is decided by compare.
func (r reached) trusted() func(chain.Head) bool {
	to := make(map[event.Device]uint64, len(r.Heads))
	for _, h := range r.Heads {
		to[h.Device] = h.Seq
	}
	return func(h chain.Head) bool { return h.Seq <= to[h.Device] }
}

// compare compares the saved heads with those that the archive gave: held reports that no event that was verified is
// missing, agrees that none was replaced by another.
func (r reached) compare(now *chain.Log) (held, agrees bool) {
	held, agrees = true, true
	for _, h := range r.Heads {
		switch sum, ok := now.At(h.Device, h.Seq); {
		case !ok:
			held = false
			// It ends earlier than what is vouched for, so the head does not vouch for what is left of it.
			agrees = agrees && now.Reach(h.Device).Seq == 0
		case sum != chain.Hash(h.Chain):
			agrees = false
		}
	}
	return held, agrees
}

func (r reached) checkpoint() checkpoint { return r.Stream.clone() }
