package event

import (
	"crypto/ed25519"

	hodv1 "hod/proto/hod/v1"
)

// DeviceEnrolled lets a device write from now on.
type DeviceEnrolled struct {
	Device    Device
	PublicKey []byte // Ed25519
	Role      Role
	Crew      Crew // may be empty for all but a crew's device
	Label     string
}

func (b DeviceEnrolled) check() error {
	if len(b.PublicKey) != ed25519.PublicKeySize {
		return cannot("the public key of %q has %d bytes; an Ed25519 key has %d", clip(string(b.Device)),
			len(b.PublicKey), ed25519.PublicKeySize)
	}
	if b.Role == CrewRole && b.Crew == "" {
		return cannot("device %q is a crew's but the crew is not said", clip(string(b.Device)))
	}
	return first(
		checkName("device", b.Device),
		b.Role.check(),
		checkMaybeName("crew", b.Crew),
		checkLine("label of the device", b.Label),
	)
}

func (b DeviceEnrolled) about() about { return about{kind: "enrolment", sort: Membership, by: Server} }

func (b DeviceEnrolled) member() Device { return b.Device }

func (b DeviceEnrolled) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_DeviceEnrolled{DeviceEnrolled: &hodv1.DeviceEnrolled{
		Device: string(b.Device), PublicKey: b.PublicKey, Role: hodv1.Role(b.Role), Crew: string(b.Crew),
		Label: b.Label,
	}}}
}

var _ = reads(func(k *hodv1.Body_DeviceEnrolled) Body { return deviceEnrolledOf(k.DeviceEnrolled) })

func deviceEnrolledOf(p *hodv1.DeviceEnrolled) DeviceEnrolled {
	return DeviceEnrolled{
		Device: Device(p.GetDevice()), PublicKey: p.GetPublicKey(), Role: Role(p.GetRole()), Crew: Crew(p.GetCrew()),
		Label: p.GetLabel(),
	}
}

// CheckDevice says why a device cannot have a name; nil if it can.
func CheckDevice(d Device) error { return checkName("device", d) }
