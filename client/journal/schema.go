package journal

// schemaVersion is the form of the tables below. A file of a higher one than form is not touched; from this one on,
// migrations lead to it, also where a journal is new.
const schemaVersion = 1

// elsewhereTable is what the first journals of form 1 lack.
const elsewhereTable = `
create table elsewhere (
	last integer not null,
	chain blob not null,
	raw blob not null,
	primary key (last, chain)
) strict, without rowid;
`

// schema makes the tables.
//
// The mark of an event is the order in which it came here; it is never used twice, so that Since misses nothing. An
// event's bytes lie here once, as first written, with the chain's head after it. The one way out of the table event is
// into superseded, at a rewrite after a fork; from there nothing leaves.
const schema = elsewhereTable + `
create table meta (key text primary key, value blob) strict, without rowid;

create table event (
	mark integer primary key autoincrement,
	device text not null,
	seq integer not null check (seq > 0),
	chain blob not null check (length(chain) = 32),
	raw blob not null,
	unique (device, seq)
) strict;

create table segment (
	device text not null,
	first integer not null,
	last integer not null,
	raw blob not null,
	primary key (device, last)
) strict;

create table rewrite (
	id integer primary key,
	at_ms integer not null,
	device text not null,
	ancestor integer not null,
	accepted integer not null
) strict;

create table superseded (
	rewrite integer not null references rewrite (id),
	device text not null,
	seq integer not null,
	chain blob not null,
	raw blob not null,
	primary key (device, seq, chain)
) strict;

create table superseded_segment (
	rewrite integer not null references rewrite (id),
	device text not null,
	first integer not null,
	last integer not null,
	raw blob not null
) strict;

create table contact (
	id integer primary key check (id = 1),
	at_ms integer,
	offset_ns integer,
	position integer not null default 0,
	position_hash blob,
	whole_ms integer
) strict;

create table known_head (
	place text not null check (place in ('server', 'backup', 'missing')),
	device text not null,
	seq integer not null,
	chain blob not null check (length(chain) = 32),
	primary key (place, device)
) strict, without rowid;

create trigger event_never_changes before update on event
begin select raise(abort, 'an event is never changed'); end;

create trigger event_never_leaves before delete on event
when not exists (select 1 from superseded s
	where s.device = old.device and s.seq = old.seq and s.chain = old.chain and s.raw = old.raw)
begin select raise(abort, 'an event is never deleted'); end;

create trigger superseded_never_changes before update on superseded
begin select raise(abort, 'an event is never changed'); end;

create trigger superseded_never_leaves before delete on superseded
begin select raise(abort, 'an event is never deleted'); end;

pragma user_version = 1;
`
