package cli

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"

	"hod/client/session"
	"hod/internal/view/advice"
)

// shownFile lies beside the journal: which plans this device showed last, by number, so that a number chosen later
// means the plan that a person saw, and not one that another has its number since.
const shownFile = "plans-shown.json"

// shownPlans is what that file holds.
type shownPlans struct {
	Date string   `json:"date"`
	Keys []string `json:"keys"`
}

func shownPath(env *session.Env) (string, error) {
	dir, err := env.Folder()
	return filepath.Join(dir, shownFile), err
}

// keepShown writes down which plans were shown. It is only of this device and can be shown again, so it is not flushed.
func keepShown(env *session.Env, v advice.DayPlans) error {
	so := shownPlans{Date: v.Date}
	for _, p := range v.Plans {
		so.Keys = append(so.Keys, p.Key)
	}
	path, err := shownPath(env)
	if err != nil {
		return err
	}
	text, err := json.Marshal(so)
	if err != nil {
		return err
	}
	if err := os.WriteFile(path+".new", text, 0o600); err != nil {
		return errors.Join(err, os.Remove(path+".new"))
	}
	return os.Rename(path+".new", path)
}

// plansShown are those that were shown last; none where none were, or nobody can read them.
func plansShown(env *session.Env) shownPlans {
	var so shownPlans
	path, err := shownPath(env)
	if err != nil {
		return so
	}
	if text, err := os.ReadFile(path); err != nil || json.Unmarshal(text, &so) != nil {
		return shownPlans{}
	}
	return so
}
