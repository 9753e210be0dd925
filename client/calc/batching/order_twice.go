package batching

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// saidTwice is the path of the first field that an object of a JSON text has twice; empty where none is. The standard
// reader takes the last of them without a word.
func saidTwice(raw []byte) string {
	d := json.NewDecoder(bytes.NewReader(raw))
	var walk func(path string) string
	walk = func(path string) string {
		t, err := d.Token()
		if err != nil {
			return ""
		}
		switch t {
		case json.Delim('{'):
			seen := map[string]bool{}
			for d.More() {
				name, err := d.Token()
				if err != nil {
					return ""
				}
				key, _ := name.(string)
				at := pathTo(path, key)
				if seen[key] {
					return at
				}
				seen[key] = true
				if twice := walk(at); twice != "" {
					return twice
				}
			}
			_, _ = d.Token() // the bracket that ends it: the text was read before
		case json.Delim('['):
			for i := 0; d.More(); i++ {
				if twice := walk(fmt.Sprintf("%s[%d]", path, i)); twice != "" {
					return twice
				}
			}
			_, _ = d.Token()
		}
		return ""
	}
	return walk("")
}
