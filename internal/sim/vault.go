package sim

import (
	"fmt"
	"time"

	"hod/internal/event"
	"hod/internal/plan"
	example "hod/testdata/plan"
)

// Vault is two days of the example vault: three crews, one barrow that comes too late for its edge, and a hot and windy
// second afternoon. in is the vault's time zone.
func Vault(in *time.Location) (Job, error) {
	p, err := plan.Read("vault.yaml", example.Vault, nil)
	if err != nil {
		return Job{}, fmt.Errorf("plan of the invented vault: %w", err)
	}
	return Job{
		Plan: p.Events(), First: time.Date(2031, 5, 12, 0, 0, 0, 0, in), Days: 2, Seed: 12, Late: 5 * time.Hour,
		HotDay: 1,
		Of: func(z event.Zone) event.Crew {
			return map[byte]event.Crew{'A': "north", 'B': "crown", 'C': "south"}[z[0]]
		},
	}, nil
}
