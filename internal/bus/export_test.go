package bus

import "context"

// Last is the number of the last message in the log, 0 if there is none.
func (l *Line) Last(ctx context.Context) (uint64, error) { return l.last(ctx) }
