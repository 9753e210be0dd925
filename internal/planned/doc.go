// Package planned is the plan of a site: what holds now, what held at an instant, and which of several plans of one
// thing counts.
//
// A plan is what foremen wrote, with defaults filled in. What was done is judged by the plan that was true of it, what
// is left by the plan of now; see history.go. A coat or an edge whose zone is not planned is set aside. No figure of
// what was mixed or placed is here.
package planned
