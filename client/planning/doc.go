// Package planning is the commands by which a foreman writes the plan: zones with their coats and edges, mixes, or all
// at once from a file (package internal/plan reads it).
package planning
