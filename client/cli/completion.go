package cli

import (
	"fmt"
	"io"
	"runtime"
	"strings"

	"github.com/spf13/cobra"
)

// shells for which completion is written.
var shells = []string{"bash", "zsh", "fish", "powershell"}

func newCompletion(env *deviceEnv) *cobra.Command {
	c := env.command("completion SHELL", "Write the completion of words for a shell: "+strings.Join(shells, ", "),
		"hod completion bash > ~/.local/share/bash-completion/completions/hod", "hod completion fish > ~/.config/fish/completions/hod.fish")
	c.Args = exactly(1, "the name of a shell")
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
		return usage("there is no completion for %q%s", safe(args[0]), offer(args[0], shells))
	}
	return c
}

// versionShown is the document hod.version.v1.
type versionShown struct {
	Version string `json:"version"`
	Go      string `json:"go"`
	System  string `json:"system"`
}

func newVersion(env *deviceEnv, release string) *cobra.Command {
	c := env.command("version", "Say which hod this is, for a report of a fault", "hod version")
	c.RunE = func(*cobra.Command, []string) error {
		v := versionShown{release, runtime.Version(), runtime.GOOS + "/" + runtime.GOARCH}
		return env.print("version", v, func(w io.Writer) { fmt.Fprintln(w, version(release)) })
	}
	return c
}
