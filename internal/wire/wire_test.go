package wire

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
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

// mirrored are the views that cross a wire, with the messages that mirror them.
func mirrored() []struct {
	view, back any
	message    proto.Message
} {
	return []struct {
		view, back any
		message    proto.Message
	}{
		{&daily.Board{}, &daily.Board{}, &hodv1.Board{}},
		{&view.Zone{}, &view.Zone{}, &hodv1.Zone{}},
		{&view.Joints{}, &view.Joints{}, &hodv1.Joints{}},
		{&advice.Next{}, &advice.Next{}, &hodv1.Next{}},
		{&advice.NextAll{}, &advice.NextAll{}, &hodv1.NextAll{}},
		{&advice.DayPlans{}, &advice.DayPlans{}, &hodv1.DayPlans{}},
		{&ahead.Forecast{}, &ahead.Forecast{}, &hodv1.Forecast{}},
		{&view.Stock{}, &view.Stock{}, &hodv1.Stock{}},
		{&view.Conditions{}, &view.Conditions{}, &hodv1.Conditions{}},
		{&daily.Day{}, &daily.Day{}, &hodv1.Day{}},
		{&daily.Flags{}, &daily.Flags{}, &hodv1.Flags{}},
		{&view.Log{}, &view.Log{}, &hodv1.Log{}},
		{&drawing.Overview{}, &drawing.Overview{}, &hodv1.Overview{}},
		{&drawing.Map{}, &drawing.Map{}, &hodv1.Map{}},
		{&drawing.Charts{}, &drawing.Charts{}, &hodv1.Charts{}},
	}
}

// sent is the view as it comes out at the other end.
func sent(t *testing.T, v any, message proto.Message, back any) {
	t.Helper()
	if err := To(v, message); err != nil {
		t.Fatal(err)
	}
	bytes, err := proto.Marshal(message)
	if err != nil {
		t.Fatal(err)
	}
	got := message.ProtoReflect().New().Interface()
	if err := proto.Unmarshal(bytes, got); err != nil {
		t.Fatal(err)
	}
	if err := From(got, back); err != nil {
		t.Fatal(err)
	}
}

// toByJSON and fromByJSON are what To and From give, by way of JSON: what a view says to scripts is what a message
// says.
func toByJSON(view any, into proto.Message) error {
	text, err := json.Marshal(view)
	if err != nil {
		return err
	}
	return protojson.Unmarshal(text, into)
}

func fromByJSON(message proto.Message, into any) error {
	text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(message)
	if err != nil {
		return err
	}
	return json.Unmarshal(text, into)
}

func TestAViewOnTheWireSaysWhatItSaysInJSON(t *testing.T) {
	fills := map[string]func(reflect.Value){
		"filled":  func(v reflect.Value) { n := 0; fill(v, &n) },
		"noughts": func(v reflect.Value) { noughts(v) },
		"empty":   func(reflect.Value) {},
	}
	for _, k := range mirrored() {
		for name, fill := range fills {
			v := reflect.New(reflect.TypeOf(k.view).Elem())
			fill(v.Elem())
			got, want := k.message.ProtoReflect().New().Interface(), k.message.ProtoReflect().New().Interface()
			if err := To(v.Interface(), got); err != nil {
				t.Fatal(err)
			}
			if err := toByJSON(v.Interface(), want); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
				t.Errorf("%T, %s: the message is another than by JSON:\n%s", k.view, name, diff)
			}
			gotBack, wantBack := reflect.New(v.Type().Elem()).Interface(), reflect.New(v.Type().Elem()).Interface()
			if err := From(want, gotBack); err != nil {
				t.Fatal(err)
			}
			if err := fromByJSON(want, wantBack); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(wantBack, gotBack); diff != "" {
				t.Errorf("%T, %s: the view is another than by JSON:\n%s", k.view, name, diff)
			}
		}
	}
}

func TestWhatNoMessageCanSayIsRefused(t *testing.T) {
	type sub struct {
		Sight string `json:"sight"`
	}
	type perhaps struct {
		MeanM *float64 `json:"mean_m"`
	}
	for name, k := range map[string]struct {
		view any
		into proto.Message
	}{
		"a field that the message lacks":             {sub{"x"}, &hodv1.Board{}},
		"a nought where the message has but numbers": {perhaps{}, &hodv1.MapZone{}},
		"a number that is none":                      {view.CoatLine{AreaM2: math.NaN()}, &hodv1.CoatLine{}},
		"an instant before all calendars":            {view.Joints{AsOf: time.Unix(-1<<40, 0)}, &hodv1.Joints{}},
	} {
		if err := To(k.view, k.into); err == nil {
			t.Errorf("%s went over", name)
		}
	}
	got := &hodv1.CoatLine{}
	if err := To(view.CoatLine{Zone: "A\xff\xfe3"}, got); err != nil || got.GetZone() != "A\ufffd\ufffd3" {
		t.Errorf("text that is none is %q, %v", got.GetZone(), err)
	}
}

func TestNoFieldIsLost(t *testing.T) {
	for _, k := range mirrored() {
		t.Run(fmt.Sprintf("%T", k.view), func(t *testing.T) {
			n := 0
			fill(reflect.ValueOf(k.view).Elem(), &n)
			sent(t, k.view, k.message, k.back)
			if diff := cmp.Diff(k.view, k.back); diff != "" {
				t.Errorf("a view of %d values came back otherwise:\n%s", n, diff)
			}
		})
	}
}

// noughts points every number that may be absent, however deep, at a nought, and gives how many there are.
func noughts(v reflect.Value) int {
	n := 0
	switch v.Kind() {
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		n += noughts(v.Index(0))
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		if k := v.Elem().Kind(); k == reflect.Struct {
			return noughts(v.Elem())
		}
		return 1
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(time.Date(2031, 5, 12, 6, 0, 0, 0, time.UTC)))
			return 0
		}
		for i := range v.NumField() {
			n += noughts(v.Field(i))
		}
	}
	return n
}

func TestANoughtThatWasReadAndOneThatNobodyReadStayApart(t *testing.T) {
	read := 0
	for _, k := range mirrored() {
		t.Run(fmt.Sprintf("%T", k.view), func(t *testing.T) {
			read += noughts(reflect.ValueOf(k.view).Elem())
			sent(t, k.view, k.message, k.back)
			if diff := cmp.Diff(k.view, k.back); diff != "" {
				t.Errorf("noughts that were read came back otherwise:\n%s", diff)
			}
			empty := reflect.New(reflect.TypeOf(k.view).Elem()).Interface()
			back := reflect.New(reflect.TypeOf(k.view).Elem()).Interface()
			sent(t, empty, k.message.ProtoReflect().New().Interface(), back)
			if diff := cmp.Diff(empty, back); diff != "" {
				t.Errorf("a view of which nobody read anything came back otherwise:\n%s", diff)
			}
		})
	}
	if read < 40 {
		t.Errorf("only %d numbers of all views may be absent; the test has lost its subject", read)
	}
}
