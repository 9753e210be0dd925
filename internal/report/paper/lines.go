package paper

import (
	"strings"
	"unicode/utf8"
)

// lines of a text in so much room, ending between words; a word wider than the room is cut.
func (s *sheet) lines(text []run, room, size float64) [][]run {
	var all [][]run
	var line []run
	used := 0.0
	end := func() {
		if line = trimmed(line); len(line) > 0 {
			all = append(all, line)
		}
		line, used = nil, 0
	}
	for _, w := range pieces(text) {
		wide := 0.0
		for _, r := range w {
			wide += s.wide(r.words, r.bold, size)
		}
		gap := 0.0
		if len(line) > 0 {
			gap = s.wide(" ", false, size)
		}
		if len(line) > 0 && used+gap+wide > room {
			end()
			gap = 0
		}
		if gap > 0 {
			line = append(line, run{words: " "})
		}
		for wide > room {
			head, rest := s.cut(w, room, size)
			all = append(all, head)
			w, wide = rest, 0
			for _, r := range w {
				wide += s.wide(r.words, r.bold, size)
			}
		}
		line = append(line, w...)
		used += gap + wide
	}
	end()
	for i := range all {
		all[i] = joined(all[i])
	}
	return all
}

// joined is a line in as few runs as there are weights, so that words come out of the file with their spaces.
func joined(line []run) []run {
	var out []run
	for _, r := range line {
		if n := len(out); n > 0 && out[n-1].bold == r.bold {
			out[n-1].words += r.words
		} else {
			out = append(out, r)
		}
	}
	return out
}

// pieces are the words between which a line may end, each of one or more runs.
func pieces(text []run) [][]run {
	var all [][]run
	var word []run
	for _, r := range text {
		for i, piece := range strings.Split(r.words, " ") {
			if i > 0 && len(word) > 0 {
				all, word = append(all, word), nil
			}
			if piece != "" {
				word = append(word, run{piece, r.bold})
			}
		}
	}
	if len(word) > 0 {
		all = append(all, word)
	}
	return all
}

// cut takes as many letters of a word as there is room for, at least one.
func (s *sheet) cut(word []run, room, size float64) (head, rest []run) {
	for i, r := range word {
		wide := s.wide(r.words, r.bold, size)
		if wide <= room {
			head = append(head, r)
			room -= wide
			continue
		}
		at := 0
		for at < len(r.words) {
			_, n := utf8.DecodeRuneInString(r.words[at:])
			if s.wide(r.words[:at+n], r.bold, size) > room && at+len(head) > 0 {
				break
			}
			at += n
		}
		if at > 0 {
			head = append(head, run{r.words[:at], r.bold})
		}
		if at < len(r.words) {
			rest = append(rest, run{r.words[at:], r.bold})
		}
		return head, append(rest, word[i+1:]...)
	}
	return head, nil
}

func (s *sheet) wide(words string, bold bool, size float64) float64 {
	return s.letters.wide(words, bold, size)
}
