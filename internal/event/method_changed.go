package event

import hodv1 "hod/proto/hod/v1"

// MethodChanged says that from now on mortar is placed in another way: what coats took until now says less of those to
// come.
type MethodChanged struct {
	What string // in words
}

func (b MethodChanged) check() error { return checkSaid("change of method", b.What) }

func (b MethodChanged) about() about { return about{kind: "method", sort: Work, by: Crews} }

func (b MethodChanged) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_MethodChanged{MethodChanged: &hodv1.MethodChanged{What: b.What}}}
}

var _ = reads(func(k *hodv1.Body_MethodChanged) Body { return methodChangedOf(k.MethodChanged) })

func methodChangedOf(p *hodv1.MethodChanged) MethodChanged { return MethodChanged{What: p.GetWhat()} }
