package web

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/fold"
)

// faulty is a record at which each page meets a fault of the program.
type faulty struct{ *invented }

func (faulty) View(func(*fold.Site)) { panic("a fault of the program") }

func TestAPageThatMeetsAFaultGivesItsPlaceBack(t *testing.T) {
	taken := 0
	v := Visit{Path: "now", Enter: func() (func(), error) {
		taken++
		return func() { taken-- }, nil
	}}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("no fault was met")
			}
		}()
		r := faulty{&invented{now: func() time.Time { return time.Date(2031, 5, 12, 9, 0, 0, 0, time.UTC) }}}
		New(r, zerolog.Nop()).Answer(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/p/now", nil), v)
	}()
	if taken != 0 {
		t.Errorf("%d places are taken still", taken)
	}
	v.Enter = func() (func(), error) { return nil, errors.New("all places are taken") }
	w := httptest.NewRecorder()
	New(&invented{}, zerolog.Nop()).Answer(w, httptest.NewRequest(http.MethodGet, "/p/now", nil), v)
	if w.Code != http.StatusTooManyRequests {
		t.Errorf("without a place it answers %d", w.Code)
	}
}
