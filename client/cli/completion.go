package cli

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/notices"
)

// shells for which completion is written.
var shells = []string{"bash", "zsh", "fish", "powershell"}

func newCompletion(env *session.Env) *cobra.Command {
	c := env.NewCommand("completion SHELL", "Write the completion of words for a shell: "+strings.Join(shells, ", "),
		"hod completion bash > ~/.local/share/bash-completion/completions/hod",
		"hod completion fish > ~/.config/fish/completions/hod.fish")
	c.Args = terminal.ExactArgs(1, "the name of a shell")
	c.RunE = func(c *cobra.Command, args []string) error {
		root := c.Root()
		switch args[0] {
		case "bash":
			return root.GenBashCompletionV2(env.Stdout, true)
		case "zsh":
			return root.GenZshCompletion(env.Stdout)
		case "fish":
			return root.GenFishCompletion(env.Stdout, true)
		case "powershell":
			return root.GenPowerShellCompletionWithDesc(env.Stdout)
		}
		return terminal.Usagef("there is no completion for %q%s", terminal.Safe(args[0]),
			terminal.Suggest(args[0], shells))
	}
	return c
}

// versionShown is the document hod.version.v1.
type versionShown struct {
	Version string `json:"version"`
	Go      string `json:"go"`
	System  string `json:"system"`
	// Licences of what others wrote, with --licences.
	Licences string `json:"licences,omitempty"`
}

func newVersion(env *session.Env, release string) *cobra.Command {
	var licences bool
	c := env.NewCommand("version", "Say which hod this is, for a report of a fault", "hod version",
		"hod version --licences   # of what others wrote and hod is built with")
	c.Flags().BoolVar(&licences, "licences", false, "print the licences of what others wrote and hod is built with")
	c.RunE = func(*cobra.Command, []string) error {
		v := versionShown{Version: release, Go: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
		if licences {
			v.Licences = notices.Text
			return env.Print("version", v, func(w io.Writer) { fmt.Fprint(w, notices.Text) })
		}
		return env.Print("version", v, func(w io.Writer) { fmt.Fprintln(w, version(release)) })
	}
	return c
}

// version is what a report of a fault needs.
func version(v string) string {
	if v == "" {
		v = "not released"
	}
	commit := ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				commit = ", commit " + s.Value[:min(12, len(s.Value))]
			}
		}
	}
	return fmt.Sprintf("hod %s%s, %s, %s/%s", v, commit, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}
