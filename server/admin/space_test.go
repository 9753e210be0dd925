package admin

import (
	"reflect"
	"testing"

	"hod/server/space"
)

func TestWhatIsSaidOfTheSpaceCrossesTheSocketWhole(t *testing.T) {
	before := int64(9)
	for _, s := range []Space{
		{
			Quotas: space.Quotas{Stream: 1, Archive: 2, Reserve: 3},
			Used:   space.Used{Stream: 4, Archive: 5, Free: 6, Behind: 7},
			State:  "near", Why: []string{"8"}, StreamBefore: &before,
		},
		{Used: space.Used{Free: -1}},
		{Used: space.Used{Free: 0}},
	} {
		if got := spaceOf(s.proto()); !reflect.DeepEqual(got, s) {
			t.Errorf("%+v came over as %+v", s, got)
		}
	}
}
