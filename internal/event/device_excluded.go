package event

import hodv1 "hod/proto/hod/v1"

// DeviceExcluded says that what a device wrote does not count, from one of its events on. It is for a revoked device
// that wrote to harm: the events stay in every log and archive, and no reader folds them. Only the site's own device
// writes it, and of several of one device its last holds.
type DeviceExcluded struct {
	Device  Device
	FromSeq uint64 // of the first that does not count; 0: all count again
	Why     string
}

func (b DeviceExcluded) check() error {
	return first(checkName("device", b.Device), checkText("reason", b.Why))
}

func (b DeviceExcluded) about() about { return about{kind: "exclusion", sort: Membership, by: Server} }

func (b DeviceExcluded) member() Device { return b.Device }

func (b DeviceExcluded) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_DeviceExcluded{DeviceExcluded: &hodv1.DeviceExcluded{
		Device: string(b.Device), FromSeq: b.FromSeq, Why: b.Why,
	}}}
}

var _ = reads(func(k *hodv1.Body_DeviceExcluded) Body { return deviceExcludedOf(k.DeviceExcluded) })

func deviceExcludedOf(p *hodv1.DeviceExcluded) DeviceExcluded {
	return DeviceExcluded{Device: Device(p.GetDevice()), FromSeq: p.GetFromSeq(), Why: p.GetWhy()}
}
