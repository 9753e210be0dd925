package enrol

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"slices"

	"hod/internal/chain"
	"hod/internal/confusable"
	"hod/internal/event"
	"hod/server/fault"
)

// Applicant is a device that wants to join.
type Applicant struct {
	Secret string            // of the invitation, as it was typed
	Key    ed25519.PublicKey // the device's own
	Proof  []byte            // Ed25519 by that key over the bytes of Secret
	Crew   event.Crew        // may be empty where the invitation says it
	Label  string            // what people call the device
	// A device that was let in before, and that the server may not know any more, asks for the name that it has and
	// says the site that it is of and its role; all empty otherwise.
	Device event.Device
	Site   string
	Role   string
	// Enrolment is the segment by which this site's root enrolled it then, where it holds that.
	Enrolment []byte
}

// Enrol admits a device by the secret of an invitation: it writes an enrolment to the log and returns the device with
// its name. An invitation admits a stated number of keys, each once. A key that asks again, because the answer was
// lost, gets the same answer and uses nothing up. Enrol waits until the stream was read to its end. The Error is of
// kind Denied, Conflict or Invalid where the invitation does not admit this key, and of kind Offline where ctx ended
// before.
//
// A device that is missing from the log, because the log was restored or lost, is enrolled again under its own name, as
// long as no other device has that name. A device that is enrolled already is told who it is and uses nothing up: it
// only asks where its server is now.
//
// Invariant: the use of the invitation is flushed before the enrolment is written, so that a crash between the two
// never admits more devices than the invitation states.
func (r *Register) Enrol(ctx context.Context, a Applicant) (Member, error) {
	if len(a.Key) != ed25519.PublicKeySize || !ed25519.Verify(a.Key, []byte(a.Secret), a.Proof) {
		return Member{}, fault.New(fault.Denied, nil,
			"the device did not prove that it holds its key; join again with a newer hod")
	}
	if err := chain.CheckKey(a.Key); err != nil {
		return Member{}, fault.New(fault.Denied, err,
			"the device's key is none that only its owner can sign for; make a new one: join from another folder")
	}
	select {
	case <-r.is.Log.Whole():
	case <-ctx.Done():
		return Member{}, fault.NotYet(r.is.Site)
	}
	if a.Site != "" && a.Site != r.is.Site {
		return Member{}, fault.New(fault.Conflict, nil,
			"this device is one of the site %s, and the code is of the site %s; to join that, use another folder",
			fault.Quote(a.Site), r.is.Site)
	}
	r.joining.Lock()
	defer r.joining.Unlock()
	all, err := r.invitations()
	if err != nil {
		return Member{}, err
	}
	i := find(all, a.Secret)
	if i == nil {
		return Member{}, fault.New(fault.Denied, nil,
			"no invitation has this code: compare it with the one shown, or ask the foreman for a new one")
	}
	key := hex.EncodeToString(a.Key)
	if n := slices.IndexFunc(i.Taken, func(t taken) bool { return t.Key == key }); n >= 0 {
		return r.enrol(i, a, i.Taken[n].Device)
	}
	if m, ok := r.Rights(a.Key); ok && !m.Revoked && a.Device == m.Device && r.is.Now().Before(i.Expires) {
		return m, nil
	}
	if err := r.admissible(i, a); err != nil {
		return Member{}, err
	}
	name, err := r.choose(i, a, all)
	if err != nil {
		return Member{}, err
	}
	i.Taken = append(i.Taken, taken{name, key, r.is.Now().UTC()})
	if err := i.save(); err != nil {
		return Member{}, err
	}
	return r.enrol(i, a, name)
}

// admissible returns an Error that says why the invitation does not admit this device; nil if it does.
func (r *Register) admissible(i *invitation, a Applicant) error {
	if !r.is.Now().Before(i.Expires) {
		return fault.New(fault.Denied, nil, "the code was good until %s; ask the foreman for a new one",
			i.Expires.Format("2006-01-02 15:04 MST"))
	}
	if len(i.Taken) >= i.Uses {
		if i.Uses == 1 {
			return fault.New(fault.Denied, nil, "the code was used already; ask the foreman for a new one")
		}
		return fault.New(fault.Denied, nil,
			"the code let in all of its %d devices already; ask the foreman for a new one", i.Uses)
	}
	if m, ok := r.Rights(a.Key); ok {
		if m.Revoked {
			return fault.New(fault.Denied, nil,
				"this device was revoked; join anew with another code, in another folder")
		}
		return fault.New(fault.Conflict, nil,
			"this device is enrolled already, as %s; to join under another name, use another folder", m.Device)
	}
	if i.Device != "" && a.Device != i.Device {
		return fault.New(fault.Denied, nil,
			"the code is for the device %s, to come in again as who it was; ask the foreman for another", i.Device)
	}
	if i.Crew != "" && a.Crew != "" && a.Crew != i.Crew {
		return fault.New(fault.Invalid, nil,
			"the code is for crew %s, not for %s; leave the crew out, or ask for another code", i.Crew,
			fault.Quote(a.Crew))
	}
	return nil
}

// choose returns the name under which a device is enrolled, after a check that the enrolment can be written. A new
// device gets the next free name. A device that was enrolled before and is missing from the log keeps its name if it
// proves that this site gave the name to its key, or if the invitation is for that name.
func (r *Register) choose(i *invitation, a Applicant, all []*invitation) (event.Device, error) {
	b, err := bodyOf(i, a)
	if err != nil {
		return "", err
	}
	taken := promised(all, hex.EncodeToString(a.Key))
	r.mu.Lock()
	var other bool
	if b.Device = a.Device; b.Device == "" {
		b.Device = r.members.nameFor(b.Role, b.Crew, r.tag, taken)
	} else {
		other = r.members.given[b.Device] != nil || b.Device == r.is.Root || slices.Contains(taken, b.Device)
	}
	r.mu.Unlock()
	switch {
	case other:
		return "", fault.New(fault.Conflict, nil,
			"the name %s is another device's by now: keep what this one holds with `hod export FILE`, and join anew in another folder", b.Device)
	case a.Device == "":
	case a.Role != b.Role.String():
		return "", fault.New(fault.Invalid, nil,
			"the code is for a device of the role %s, and %s is one of the role %s; ask for a code of the kind that it joined with", b.Role, fault.Quote(b.Device), fault.Quote(a.Role))
	case !given(b.Device, letterOf(b.Role, b.Crew)):
		return "", fault.New(fault.Invalid, nil, "%s is no name that this server gives to a device of that kind",
			fault.Quote(b.Device))
	case i.Device != a.Device && !gaveBefore(all, a) && !r.enrolledBefore(a, b):
		return "", fault.New(fault.Denied, nil,
			"nothing shows that this site gave the name %s to this device's key; ask the foreman for a code that is for it, `hodd invite --device %s`, with its role and crew", b.Device, b.Device)
	}
	if err := r.toldApart(b.Crew); err != nil {
		return "", err
	}
	_, err = event.Write(enrolment(event.Name{Device: r.is.Root, Seq: 1}, r.is.Now(), b))
	return b.Device, fault.OfEvent(err)
}

// toldApart refuses a crew that nobody is of yet and whose name people would take for another's.
func (r *Register) toldApart(crew event.Crew) error {
	if crew == "" {
		return nil
	}
	r.mu.Lock()
	known := r.members.crewsKnown()
	r.mu.Unlock()
	if err := confusable.Check("crew", crew, known); err != nil {
		return fault.New(fault.Invalid, err, "%v", err)
	}
	return nil
}

// gaveBefore reports whether an invitation once gave the name to the key, even if the log has lost the enrolment since.
func gaveBefore(all []*invitation, a Applicant) bool {
	key := hex.EncodeToString(a.Key)
	return slices.ContainsFunc(all, func(i *invitation) bool {
		return slices.ContainsFunc(i.Taken, func(t taken) bool { return t.Key == key && t.Device == a.Device })
	})
}

// enrolledBefore reports whether the segment that a device brings was signed by the root and enrols this key under this
// name, with the role and crew that it asks for. The caller has verified that the device holds the private key.
func (r *Register) enrolledBefore(a Applicant, now event.DeviceEnrolled) bool {
	s, err := chain.ReadSegment(a.Enrolment)
	if err != nil || s.Site != r.is.Site || s.Before.Device != r.is.Root || s.Verify(r.is.RootKey) != nil {
		return false
	}
	return slices.ContainsFunc(s.Events, func(e event.Event) bool {
		b, ok := e.Body.(event.DeviceEnrolled)
		return ok && b.Device == a.Device && a.Key.Equal(ed25519.PublicKey(b.PublicKey)) && b.Role == now.Role &&
			b.Crew == now.Crew
	})
}

func bodyOf(i *invitation, a Applicant) (event.DeviceEnrolled, error) {
	role, err := event.ParseRole(i.Role)
	if err != nil {
		return event.DeviceEnrolled{},
			fault.New(fault.Disk, err, "the invitation is damaged; ask the foreman for a new one")
	}
	b := event.DeviceEnrolled{PublicKey: a.Key, Role: role, Crew: i.Crew, Label: a.Label}
	if b.Crew == "" {
		b.Crew = a.Crew
	}
	if role == event.CrewRole && b.Crew == "" {
		return event.DeviceEnrolled{},
			fault.New(fault.Invalid, nil, "the code is for any crew: say which one, as in --crew north")
	}
	return b, nil
}

// enrol appends the enrolment to the log, unless the log holds it already.
func (r *Register) enrol(i *invitation, a Applicant, name event.Device) (Member, error) {
	if m, ok := r.Rights(a.Key); ok {
		if m.Revoked {
			return Member{}, fault.New(fault.Denied, nil,
				"this device was revoked; join anew with another code, in another folder")
		}
		return m, nil
	}
	b, err := bodyOf(i, a)
	if err != nil {
		return Member{}, err
	}
	b.Device = name
	if _, err := r.is.Log.Append(b); err != nil {
		return Member{}, err
	}
	r.is.Says.Info().Str("device", string(name)).Str("role", b.Role.String()).Str("crew",
		string(b.Crew)).Msg("enrolled")
	m, ok := r.Member(name)
	if !ok || !m.Key.Equal(a.Key) {
		return Member{}, fault.New(fault.Conflict, nil, "the name %s went to another device meanwhile; join again",
			name)
	}
	return m, nil
}
