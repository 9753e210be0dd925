package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
)

// Contact is what this device knows from its last contact with the server. The zero value: there was none.
type Contact struct {
	At       time.Time     // by the device's clock
	Offset   time.Duration // the server's clock less the device's
	Position Position
	Server   []chain.Head // how far the server's archive of each device reached
	BackedUp []chain.Head // how far its last backup reached
	Whole    time.Time    // when the stream was last read from its start to find what was missing
	Missing  []chain.Head // of the server's, those that even this did not bring
	Uptime   Uptime       // of the device at that instant; zero: not known
	// Fetched is when a contact began, by the server's clock, that brought all that the server had: how old this copy
	// of the record is. Zero: none did. A contact that broke off moves At and not this.
	Fetched time.Time
}

// Uptime is the time since a device was started, by a count that no setting of its clock moves and that runs on while
// it sleeps. The zero value: the device has none.
type Uptime struct {
	Boot  string        // names this start: counts of two starts are not compared
	Since time.Duration // the start
}

// OffsetAt is the server's clock less the device's at an instant of the device's clock, and what that rests on: carried
// on from the contact by the device's uptime, so that a clock that was set since then is found out, or else as the
// contact measured it.
func (c Contact) OffsetAt(now time.Time, up Uptime) (time.Duration, event.ClockBasis) {
	const same = 2 * time.Second // a clock that is kept right over a network creeps; it was not set
	run := up.Since - c.Uptime.Since
	if c.At.IsZero() || up.Boot == "" || up.Boot != c.Uptime.Boot || run < 0 {
		return c.Offset, event.AtContact
	}
	carried := c.At.Add(c.Offset + run).Sub(now)
	if (carried - c.Offset).Abs() < same {
		carried = c.Offset
	}
	return carried, event.Carried
}

// Status says where this device's own events are.
type Status struct {
	Kept     uint64    // on this disk
	AtServer uint64    // of them, those in the server's archive
	BackedUp uint64    // of them, those in a backup of it
	Oldest   time.Time // when the oldest of those not at the server was logged; zero if there is none
	Forked   bool      // the server has accepted another history of this device; the next contact mends it
	Contact  time.Time // the last; zero if there was none
}

// Contact gives what was stored last.
func (j *Journal) Contact(ctx context.Context) (c Contact, err error) {
	err = j.read(ctx, func(q *sql.Conn) error {
		c, err = j.contact(ctx, q)
		return err
	})
	return c, err
}

// SetContact stores what a contact brought.
func (j *Journal) SetContact(ctx context.Context, c Contact) error {
	return j.write(ctx, func(q *sql.Conn) error {
		if err := j.setPosition(ctx, q, c.Position); err != nil {
			return err
		}
		if err := j.put(ctx, q, `update contact set at_ms = ?, offset_ns = ?, whole_ms = ?`,
			millis(c.At), int64(c.Offset), millis(c.Whole)); err != nil {
			return err
		}
		if err := j.setFetched(ctx, q, c.Fetched); err != nil {
			return err
		}
		if err := j.setUptime(ctx, q, c); err != nil {
			return err
		}
		if err := j.put(ctx, q, `delete from known_head`); err != nil {
			return err
		}
		for place, heads := range map[string][]chain.Head{
			"server": c.Server, "backup": c.BackedUp, "missing": c.Missing,
		} {
			for _, h := range heads {
				if err := j.put(ctx, q,
					`insert or replace into known_head (place, device, seq, chain) values (?, ?, ?, ?)`,
					place, string(h.Device), int64(h.Seq), h.Chain[:]); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// Status says where this device's own events are, as far as the last contact told.
func (j *Journal) Status(ctx context.Context) (s Status, err error) {
	err = j.read(ctx, func(q *sql.Conn) error {
		c, err := j.contact(ctx, q)
		if err != nil {
			return err
		}
		head, err := j.headOf(ctx, q, j.device.Name)
		if err != nil {
			return err
		}
		s = Status{Kept: head.Seq, Contact: c.At}
		if s.AtServer, s.Forked, err = j.reached(ctx, q, head, c.Server); err != nil {
			return err
		}
		if s.BackedUp, _, err = j.reached(ctx, q, head, c.BackedUp); err != nil {
			return err
		}
		if s.AtServer == s.Kept {
			return nil
		}
		var raw []byte
		if err := j.scan(j.row(ctx, q, `select raw from event where device = ? and seq = ?`, string(j.device.Name),
			int64(s.AtServer+1)), &raw); err != nil {
			return err
		}
		e, err := event.Read(raw)
		if err != nil {
			return j.damaged("event %s/%d: %v", j.device.Name, s.AtServer+1, err)
		}
		s.Oldest = e.LoggedAt
		return nil
	})
	return s, err
}

// reached is how many of this device's own events, up to head, are among those that known tells of.
func (j *Journal) reached(ctx context.Context, q *sql.Conn, head chain.Head, known []chain.Head) (n uint64, forked bool,
	err error,
) {
	for _, k := range known {
		if k.Device != head.Device {
			continue
		}
		// who writes here knows all that it wrote: this is another history, and none of it may be ours
		if k.Seq > head.Seq {
			return 0, true, nil
		}
		here, ok, err := j.headAt(ctx, q, k.Device, k.Seq)
		if err != nil {
			return 0, false, err
		}
		if !ok || here != k {
			return 0, true, nil
		}
		return k.Seq, false, nil
	}
	return 0, false, nil
}

func (j *Journal) contact(ctx context.Context, q *sql.Conn) (Contact, error) {
	var c Contact
	var at, offset, whole sql.NullInt64
	var position int64
	var hash []byte
	err := j.scan(j.row(ctx, q, `select at_ms, offset_ns, position, position_hash, whole_ms from contact`), &at,
		&offset, &position, &hash, &whole)
	if errors.Is(err, sql.ErrNoRows) {
		return c, nil
	}
	if err != nil {
		return c, err
	}
	c.At, c.Offset, c.Whole = fromMillis(at), time.Duration(offset.Int64), fromMillis(whole)
	c.Position.Seq = uint64(position)
	copy(c.Position.Hash[:], hash)
	if c.Uptime, err = j.uptime(ctx, q, at.Int64); err != nil {
		return c, err
	}

	if c.Fetched, err = j.fetched(ctx, q); err != nil {
		return c, err
	}
	rows, err := j.ask(ctx, q, `select place, device, seq, chain from known_head order by place, device`)
	if err != nil {
		return c, err
	}
	defer rows.Close()
	for rows.Next() {
		var place, device string
		var seq int64
		var sum []byte
		if err := j.scan(rows, &place, &device, &seq, &sum); err != nil {
			return c, err
		}
		h := chain.Head{Device: event.Device(device), Seq: uint64(seq)}
		copy(h.Chain[:], sum)
		switch place {
		case "server":
			c.Server = append(c.Server, h)
		case "backup":
			c.BackedUp = append(c.BackedUp, h)
		case "missing":
			c.Missing = append(c.Missing, h)
		}
	}
	return c, rows.Err()
}

// fetchedKey is where in the table meta the time of the last whole contact is, in milliseconds since 1970: a journal of
// an older form has none, and an older program passes it over.
const fetchedKey = "fetched_ms"

func (j *Journal) setFetched(ctx context.Context, q *sql.Conn, at time.Time) error {
	if at.IsZero() {
		return j.put(ctx, q, `delete from meta where key = ?`, fetchedKey)
	}
	return j.put(ctx, q, `insert or replace into meta (key, value) values (?, ?)`, fetchedKey,
		strconv.AppendInt(nil, at.UnixMilli(), 10))
}

func (j *Journal) fetched(ctx context.Context, q *sql.Conn) (time.Time, error) {
	var text []byte
	err := j.scan(j.row(ctx, q, `select value from meta where key = ?`, fetchedKey), &text)
	if errors.Is(err, sql.ErrNoRows) {
		return time.Time{}, nil
	}
	if err != nil {
		return time.Time{}, err
	}
	ms, err := strconv.ParseInt(string(text), 10, 64)
	if err != nil {
		return time.Time{}, nil // it can be learned again: the next contact does
	}
	return time.UnixMilli(ms).UTC(), nil
}

// uptimeKey is the row of meta that holds the device's uptime at its last contact. It names the contact, since a
// version that knows no uptime leaves the row as it is.
const uptimeKey = "contact_uptime"

type uptimeRow struct {
	AtMS    int64  `json:"at_ms"`
	Boot    string `json:"boot"`
	SinceNS int64  `json:"since_ns"`
}

func (j *Journal) setUptime(ctx context.Context, q *sql.Conn, c Contact) error {
	if c.Uptime.Boot == "" {
		return j.put(ctx, q, `delete from meta where key = ?`, uptimeKey)
	}
	text, err := json.Marshal(uptimeRow{millis(c.At).Int64, c.Uptime.Boot, int64(c.Uptime.Since)})
	if err != nil {
		return fmt.Errorf("encode the uptime: %w", err)
	}
	return j.put(ctx, q, `insert or replace into meta (key, value) values (?, ?)`, uptimeKey, text)
}

// uptime of the contact at an instant; zero where none was stored with it.
func (j *Journal) uptime(ctx context.Context, q *sql.Conn, atMS int64) (Uptime, error) {
	var text []byte
	err := j.scan(j.row(ctx, q, `select value from meta where key = ?`, uptimeKey), &text)
	if errors.Is(err, sql.ErrNoRows) {
		return Uptime{}, nil
	}
	if err != nil {
		return Uptime{}, err
	}
	var row uptimeRow
	if json.Unmarshal(text, &row) != nil || row.AtMS != atMS {
		return Uptime{}, nil
	}
	return Uptime{row.Boot, time.Duration(row.SinceNS)}, nil
}

// offset is the clock's offset for events written now; nil before the first contact.
func (j *Journal) offset(ctx context.Context, q *sql.Conn) (*time.Duration, error) {
	var ns sql.NullInt64
	err := j.scan(j.row(ctx, q, `select offset_ns from contact where at_ms is not null`), &ns)
	if errors.Is(err, sql.ErrNoRows) || (err == nil && !ns.Valid) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	offset := time.Duration(ns.Int64)
	return &offset, nil
}

func (j *Journal) setPosition(ctx context.Context, q *sql.Conn, p Position) error {
	return j.put(ctx, q, `insert into contact (id, position, position_hash) values (1, ?1, ?2)
		on conflict (id) do update set position = ?1, position_hash = ?2`, int64(p.Seq), p.Hash[:])
}

func millis(t time.Time) sql.NullInt64 {
	return sql.NullInt64{Int64: t.UnixMilli(), Valid: !t.IsZero()}
}

func fromMillis(ms sql.NullInt64) time.Time {
	if !ms.Valid {
		return time.Time{}
	}
	return time.UnixMilli(ms.Int64).UTC()
}
