package terminal

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// The corner marks of ISO/IEC 18004, 7 by 7 modules, are where they belong, and the ground around the code is light.
func TestACodeIsDarkOnLightOnEitherGround(t *testing.T) {
	const link = "https://hod.example:7422/see/ZjE.w0ybsl.gzNaBDOP1OGo94pLeNYiNWn0A3AYbC77-rSRoS7AVEr3wrYIdGkLlPjc5vYXDLe6c7qT_26S_nBnZG5pJcOzAw/"
	for _, ground := range []string{OnDark, OnLight} {
		text, err := QR(link, ground)
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
		var rows [][]bool // dark as a camera sees it, two a line
		for _, l := range lines {
			up, down := []bool{}, []bool{}
			for _, r := range l {
				up = append(up, strings.ContainsRune("█▀", r) == (ground == OnLight))
				down = append(down, strings.ContainsRune("█▄", r) == (ground == OnLight))
			}
			rows = append(rows, up, down)
		}
		wide := utf8.RuneCountInString(lines[0])
		if wide > 80 || wide != len(rows) && wide != len(rows)-1 {
			t.Errorf("%s: %d columns of %d rows", ground, wide, len(rows))
		}
		for i := range wide {
			if rows[0][i] || rows[i][0] || rows[3][i] {
				t.Fatalf("%s: the ground around the code is not light at %d:\n%s", ground, i, text)
			}
		}
		finder := []string{"#######", "#.....#", "#.###.#", "#.###.#", "#.###.#", "#.....#", "#######"}
		for _, corner := range [][2]int{{quiet, quiet}, {quiet, wide - quiet - 7}, {wide - quiet - 7, quiet}} {
			for y, line := range finder {
				for x, want := range line {
					if got := rows[corner[0]+y][corner[1]+x]; got != (want == '#') {
						t.Fatalf("%s: the mark at %v is broken at %d, %d:\n%s", ground, corner, x, y, text)
					}
				}
			}
		}
	}
}
