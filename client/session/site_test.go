package session

import (
	"testing"

	"hod/client/terminal"
)

func TestFoldersByTheConventionsOfTheSystem(t *testing.T) {
	for _, c := range []struct {
		flag string
		env  map[string]string
		want string
	}{
		{"/a", map[string]string{"HOD_DIR": "/b", "HOME": "/h"}, "/a"},
		{"", map[string]string{"HOD_DIR": "/b", "XDG_STATE_HOME": "/s", "HOME": "/h"}, "/b"},
		{"", map[string]string{"XDG_STATE_HOME": "/s", "HOME": "/h"}, "/s/hod"},
		{"", map[string]string{"XDG_STATE_HOME": "relative", "HOME": "/h"}, "/h/.local/state/hod"},
		{"", map[string]string{"HOME": "/h"}, "/h/.local/state/hod"},
	} {
		env := &Env{Streams: &terminal.Streams{Getenv: func(key string) string { return c.env[key] }}}
		env.Dir = c.flag
		if got, err := env.Folder(); err != nil || got != c.want {
			t.Errorf("--dir %q with %v: %q, %v; want %q", c.flag, c.env, got, err, c.want)
		}
	}
	if dir, err := (&Env{Streams: &terminal.Streams{Getenv: func(string) string { return "" }}}).Folder(); err == nil {
		t.Errorf("without any folder it is %q; want an error", dir)
	}
}
