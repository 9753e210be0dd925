package report

import (
	"slices"
	"strings"
)

// Linked are words in which the names of events stand: on a web page each leads to its event. The names are given,
// since a batch is named in the same form as an event.
func Linked(words string, names ...string) Text {
	names = slices.DeleteFunc(slices.Clone(names), func(n string) bool { return n == "" })
	slices.SortFunc(names, func(a, b string) int { return len(b) - len(a) }) // n1/14 before n1/1
	var all Text
	for words != "" {
		at, name := -1, ""
		for _, n := range names {
			if i := whole(words, n); i >= 0 && (at < 0 || i < at) {
				at, name = i, n
			}
		}
		if at < 0 {
			break
		}
		if at > 0 {
			all = append(all, Say(words[:at])...)
		}
		all = append(all, Say(name).To("event", name)...)
		words = words[at+len(name):]
	}
	if words != "" {
		all = append(all, Say(words)...)
	}
	return all
}

// whole is where a name stands in words and is not the beginning or the end of another; -1 where it does not.
func whole(words, name string) int {
	part := func(i int) bool {
		return i >= 0 && i < len(words) && (words[i] >= '0' && words[i] <= '9' || words[i] >= 'a' && words[i] <= 'z' ||
			words[i] == '/' || words[i] == '-')
	}
	for from := 0; ; {
		i := strings.Index(words[from:], name)
		if i < 0 {
			return -1
		}
		i += from
		if !part(i-1) && !part(i+len(name)) {
			return i
		}
		from = i + 1
	}
}
