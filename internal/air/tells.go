package air

import "time"

// Tells says whether the air from an instant on is told by readings of a time before it, whatever was read earlier.
func (t *Timeline) Tells(from time.Time, within time.Duration) bool {
	i := t.readAir.after(from.UnixNano())
	return i > 0 && t.readAir.at[i-1] > from.Add(-within).UnixNano()
}

// Settled is when the air was read so long after an instant that no later reading or forecast changes what it was taken
// to be until then; zero if it was not.
func (t *Timeline) Settled(at time.Time) time.Time {
	if i := t.readAir.after(at.Add(airGap).UnixNano()); i < len(t.readAir.at) {
		return time.Unix(0, t.readAir.at[i]).UTC()
	}
	return time.Time{}
}
