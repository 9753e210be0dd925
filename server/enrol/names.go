package enrol

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"hod/internal/event"
	"hod/server/fault"
	"hod/server/store"
)

// A server whose log was restored or lost does not know which names it gave meanwhile, and a name must never be
// given to a second device. So the names that it gives from then on carry two letters more, drawn by chance: sxk1 after
// s12. That two restorations of one log draw the same happens once in 361 times.
const (
	tagFile = "names" // holds the letters
	tagSize = 2

	mostDigits = 6 // of the number in a name
)

// openTag reads the letters of a data folder; none for one that was never restored. A backup carries a mark, and a
// folder that is found without its log gets one, so that the first start draws new letters.
func openTag(dir string) (tag string, drawn bool, err error) {
	restored, err := store.IsCopy(dir)
	if err != nil {
		return "", false, err
	}
	if restored {
		if tag, err = drawTag(dir); err != nil {
			return "", false, err
		}
		return tag, true, store.ForgetCopy(dir)
	}
	text, err := store.ReadFile(filepath.Join(dir, tagFile))
	if errors.Is(err, fs.ErrNotExist) {
		return "", false, nil
	} else if err != nil {
		return "", false, fault.OfFile(dir, err)
	}
	tag = strings.TrimSpace(string(text))
	if len(tag) != tagSize || strings.Trim(tag, tagLetters) != "" {
		tag, err = drawTag(dir) // damaged; any other will do
		return tag, true, err
	}
	return tag, false, nil
}

// tagLetters are the letters that a tag is drawn from: without vowels they make no words, and none is mistaken for a
// digit.
const tagLetters = "bcdfghjkmnpqrstvwxz"

func drawTag(dir string) (string, error) {
	b := make([]byte, tagSize)
	_, _ = rand.Read(b) // never fails
	for i := range b {
		b[i] = tagLetters[int(b[i])%len(tagLetters)]
	}
	return string(b), store.ReplaceFile(filepath.Join(dir, tagFile), append(b, '\n'))
}

// NewTag draws new tag letters. The server calls it when segments that devices bring show that its log was put back
// from a backup.
func (r *Register) NewTag() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.tagged {
		return nil
	}
	tag, err := drawTag(r.is.Dir)
	if err != nil {
		return fmt.Errorf("set the names of new devices apart: %w", err)
	}
	r.tag, r.tagged = tag, true
	return nil
}

// nameFor is the next name for a device: the first letter of its crew, or of its role, the letters of a restored
// server, and a number that no device with these had. A name is never given to a second device, so that an event's name
// stays its author's.
func (m *members) nameFor(role event.Role, crew event.Crew, tag string, promised []event.Device) event.Device {
	front := letterOf(role, crew) + tag
	var highest uint64
	for _, d := range slices.AppendSeq(slices.Clone(promised), maps.Keys(m.given)) {
		number, ok := strings.CutPrefix(string(d), front)
		if n, err := strconv.ParseUint(number, 10, 32); ok && err == nil && len(number) <= mostDigits {
			highest = max(highest, n)
		}
	}
	return event.Device(front + strconv.FormatUint(highest+1, 10))
}

// given reports whether nameFor could have made a name that begins with this letter.
func given(d event.Device, letter string) bool {
	rest, ok := strings.CutPrefix(string(d), letter)
	number := strings.TrimLeft(rest, tagLetters)
	_, err := strconv.ParseUint(number, 10, 32)
	tag := len(rest) - len(number)
	return ok && err == nil && len(number) <= mostDigits && (tag == 0 || tag == tagSize)
}

func letterOf(role event.Role, crew event.Crew) string {
	word := role.String()
	if role == event.CrewRole {
		word = string(crew)
	}
	first, _ := utf8.DecodeRuneInString(strings.ToLower(word))
	if !unicode.IsLetter(first) {
		return "c" // 7 and 1 would be read as 71
	}
	return string(first)
}
