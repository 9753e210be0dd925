// Package judge holds what the record shows against the rules of the trade and the plan, and says what a person should
// see: cold joints, surfaces that dried, frost, rain, thin or overfull coats, clocks that were off, plans in conflict.
//
// Each rule has its limit and source beside it. A zone is judged when it is first asked about, and again only when the
// zone was worked out anew. A batch is judged in package mixed.
package judge
