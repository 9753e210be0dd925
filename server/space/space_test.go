package space

import (
	"strings"
	"testing"
)

const gib = 1 << 30

func TestAServerClosesAtAQuotaAndOpensOnlyOnceThereIsRoom(t *testing.T) {
	q := Quotas{Stream: 10 * gib, Archive: 8 * gib, Reserve: gib}
	for _, c := range []struct {
		name string
		u    Used
		was  State
		want State
		says []string
	}{
		{"half full", Used{Stream: 5 * gib, Archive: 4 * gib, Free: 50 * gib}, Fine, Fine, nil},
		{"the stream near", Used{Stream: 8 * gib, Archive: 4 * gib, Free: 50 * gib}, Fine, Near, []string{
			"8 GiB of 10 GiB", "--compact",
			"--stream-quota",
		}},
		{
			"the archive near",
			Used{Stream: 5 * gib, Archive: 7 * gib, Free: 50 * gib},
			Fine, Near,
			[]string{"archive is near", "--archive-quota"},
		},
		{
			"the stream full",
			Used{Stream: 10 * gib, Archive: 4 * gib, Free: 50 * gib},
			Near, Full,
			[]string{"no new events", "--compact", "--stream-quota"},
		},
		{
			"no segment fits any more",
			Used{Stream: 10*gib - 70<<10, Archive: 4 * gib, Free: 50 * gib},
			Near, Full,
			[]string{"10 GiB"},
		},
		{
			"the archive full",
			Used{Stream: 5 * gib, Archive: 8 * gib, Free: 50 * gib},
			Near, Full,
			[]string{"8 GiB", "--archive-quota"},
		},
		{
			"still full a little below",
			Used{Stream: 5 * gib, Archive: 8*gib - gib/4, Free: 50 * gib},
			Full, Full,
			[]string{"no new events"},
		},
		{
			"not full before, and a little below",
			Used{Stream: 5 * gib, Archive: 8*gib - gib/4, Free: 50 * gib},
			Near,
			Near,
			[]string{"near"},
		},
		{"room again", Used{Stream: 5 * gib, Archive: 7 * gib, Free: 50 * gib}, Full, Near, []string{"near"}},
		{
			"the disk near",
			Used{Stream: 5 * gib, Archive: 4 * gib, Free: gib + 1},
			Fine, Near,
			[]string{"The disk has 1 GiB left", "below 1 GiB"},
		},
		{
			"the disk full",
			Used{Stream: 5 * gib, Archive: 4 * gib, Free: gib - 1},
			Near, Full,
			[]string{"Make room on the disk"},
		},
		{
			"the disk still full",
			Used{Stream: 5 * gib, Archive: 4 * gib, Free: gib + 1},
			Full, Full,
			[]string{"Make room"},
		},
		{"behind", Used{Free: -1, Behind: MostBehind + 1}, Fine, Full, []string{"behind with 20001 messages"}},
		{"less behind", Used{Free: -1, Behind: MostBehind/4 + 1}, Full, Full, []string{"behind"}},
		{"a little behind", Used{Free: -1, Behind: MostBehind / 4}, Full, Fine, nil},
		{"a disk that says nothing", Used{Stream: 5 * gib, Archive: 4 * gib, Free: -1}, Fine, Fine, nil},
		{
			"both full",
			Used{Stream: 10 * gib, Archive: 8 * gib, Free: 0},
			Fine, Full,
			[]string{"The stream", "The archive", "The disk"},
		},
	} {
		was := Verdict{State: c.was}
		if c.was == Full {
			was.closed = parts{true, true, true, true}
		}
		v := Judge(q, c.u, was)
		if v.State != c.want || (len(v.Why) > 0) != (c.want != Fine) {
			t.Errorf("%s: %v %q, want %v", c.name, v.State, v.Why, c.want)
		}
		for _, says := range c.says {
			if !strings.Contains(v.Says(), says) {
				t.Errorf("%s: %q does not say %q", c.name, v.Says(), says)
			}
		}
		if limit := Limit(q, v); (limit == 1) != (v.State == Full) || limit != 1 && limit != q.Stream {
			t.Errorf("%s: the stream may hold %d", c.name, limit)
		}
	}
}

func TestWhatWasFullKeepsNothingElseClosed(t *testing.T) {
	q := Quotas{Stream: 10 * gib, Archive: 10 * gib, Reserve: gib}
	near := Used{Stream: 10*gib - gib/4, Archive: 10*gib - gib/4, Free: gib + gib/8, Behind: MostBehind / 2}
	for name, full := range map[string]func(*Used){
		"the stream":  func(u *Used) { u.Stream = 10 * gib },
		"the archive": func(u *Used) { u.Archive = 10 * gib },
		"the disk":    func(u *Used) { u.Free = gib - 1 },
		"it is":       func(u *Used) { u.Behind = MostBehind + 1 },
	} {
		u := near
		full(&u)
		was := Judge(q, u, Verdict{})
		if was.State != Full {
			t.Fatalf("%s: %v", name, was)
		}
		room := Used{Stream: 5 * gib, Archive: 5 * gib, Free: 50 * gib}
		for other, nearly := range map[string]Used{
			"the stream":  {Stream: near.Stream, Archive: room.Archive, Free: room.Free},
			"the archive": {Stream: room.Stream, Archive: near.Archive, Free: room.Free},
			"the disk":    {Stream: room.Stream, Archive: room.Archive, Free: near.Free},
			"it is":       {Stream: room.Stream, Archive: room.Archive, Free: room.Free, Behind: near.Behind},
		} {
			if v := Judge(q, nearly, was); (v.State == Full) != (name == other) {
				t.Errorf("%s was full, %s nearly: %v %q", name, other, v.State, v.Says())
			}
		}
	}
}

func TestTheUsualQuotasLeaveAThirdOfTheDisk(t *testing.T) {
	for _, u := range []Used{{Free: 90 * gib}, {Stream: 20 * gib, Archive: 10 * gib, Free: 60 * gib}} {
		if q := Usual(u); q.Stream != 30*gib || q.Archive != 30*gib || q.Reserve != UsualReserve {
			t.Errorf("of %+v: %+v", u, q)
		}
	}
	if q := Usual(Used{Free: -1}); q.Stream != unknownQuota || Judge(q, Used{Free: -1}, Verdict{}).State != Fine {
		t.Errorf("of a disk that says nothing: %+v", q)
	}
	if q := Usual(Used{Free: 100 << 20}); q.Reserve != 10<<20 {
		t.Errorf("of a small disk: %+v", q)
	}
	if Free(t.TempDir()) == 0 {
		t.Error("this disk is full")
	}
}
