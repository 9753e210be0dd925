package wire

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"

	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// fill sets every field of a view, however deep, to something that is not its zero value.
func fill(v reflect.Value, n *int) {
	*n++
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprintf("s%d", *n))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int32:
		v.SetInt(int64(*n))
	case reflect.Float64:
		v.SetFloat(float64(*n) + 1.0/3)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fill(v.Index(0), n)
		fill(v.Index(1), n)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), n)
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(time.Date(2031, 5, 12, 6, 0, *n%60, 1e6*(*n%1000), time.UTC)))
			return
		}
		for i := range v.NumField() {
			fill(v.Field(i), n)
		}
	default:
		panic("no value for a " + v.Kind().String())
	}
}

func TestNoFieldIsLost(t *testing.T) {
	for _, k := range []struct {
		view, back any
		message    proto.Message
	}{
		{&view.Board{}, &view.Board{}, &hodv1.Board{}},
		{&view.Zone{}, &view.Zone{}, &hodv1.Zone{}},
		{&view.Joints{}, &view.Joints{}, &hodv1.Joints{}},
		{&view.Forecast{}, &view.Forecast{}, &hodv1.Forecast{}},
		{&view.Stock{}, &view.Stock{}, &hodv1.Stock{}},
		{&view.Conditions{}, &view.Conditions{}, &hodv1.Conditions{}},
		{&view.Day{}, &view.Day{}, &hodv1.Day{}},
		{&view.Flags{}, &view.Flags{}, &hodv1.Flags{}},
		{&view.Log{}, &view.Log{}, &hodv1.Log{}},
	} {
		t.Run(fmt.Sprintf("%T", k.view), func(t *testing.T) {
			n := 0
			fill(reflect.ValueOf(k.view).Elem(), &n)
			if err := To(k.view, k.message); err != nil {
				t.Fatal(err)
			}
			sent, err := proto.Marshal(k.message)
			if err != nil {
				t.Fatal(err)
			}
			got := k.message.ProtoReflect().New().Interface()
			if err := proto.Unmarshal(sent, got); err != nil {
				t.Fatal(err)
			}
			if err := From(got, k.back); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(k.view, k.back); diff != "" {
				t.Errorf("a view of %d values came back otherwise:\n%s", n, diff)
			}
		})
	}
}
