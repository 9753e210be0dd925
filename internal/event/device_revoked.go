package event

import hodv1 "hod/proto/hod/v1"

// DeviceRevoked ends what a device may write.
type DeviceRevoked struct {
	Device  Device
	LastSeq uint64 // of the last of its events that stands; 0: none does
	Why     string
}

func (b DeviceRevoked) check() error {
	return first(checkName("device", b.Device), checkText("reason", b.Why))
}

func (b DeviceRevoked) about() about { return about{kind: "revocation", sort: Membership, by: Server} }

func (b DeviceRevoked) member() Device { return b.Device }

func (b DeviceRevoked) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_DeviceRevoked{DeviceRevoked: &hodv1.DeviceRevoked{
		Device: string(b.Device), LastSeq: b.LastSeq, Why: b.Why,
	}}}
}

var _ = reads(func(k *hodv1.Body_DeviceRevoked) Body { return deviceRevokedOf(k.DeviceRevoked) })

func deviceRevokedOf(p *hodv1.DeviceRevoked) DeviceRevoked {
	return DeviceRevoked{Device: Device(p.GetDevice()), LastSeq: p.GetLastSeq(), Why: p.GetWhy()}
}
