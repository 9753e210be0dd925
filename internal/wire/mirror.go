package wire

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// mirror is how a struct of a view and the message that mirrors it go into each other, worked out once.
type mirror struct {
	fields []mirrorField
	err    error // why they do not
}

// mirrorField is one field of both.
type mirrorField struct {
	index     []int // in the struct, through what it embeds
	name      string
	in        protoreflect.FieldDescriptor
	omitEmpty bool
	of        *mirror // of a struct: its own mirror
}

type mirrorKey struct {
	of reflect.Type
	to protoreflect.FullName
}

var (
	mirrors   = map[mirrorKey]*mirror{}
	mirroring sync.Mutex
	instant   = reflect.TypeFor[time.Time]()
)

// mirrorOf a struct and a message. It is told once for both, with all that they hold.
func mirrorOf(of reflect.Type, to protoreflect.MessageDescriptor) *mirror {
	mirroring.Lock()
	defer mirroring.Unlock()
	return makeMirror(of, to)
}

func makeMirror(of reflect.Type, to protoreflect.MessageDescriptor) *mirror {
	key := mirrorKey{of, to.FullName()}
	if known := mirrors[key]; known != nil {
		return known
	}
	m := &mirror{}
	mirrors[key] = m // before its fields: a struct may hold its own kind
	m.take(of, nil, to)
	return m
}

// take the fields of a struct, and those of what it embeds.
func (m *mirror) take(of reflect.Type, under []int, to protoreflect.MessageDescriptor) {
	for i := range of.NumField() {
		f := of.Field(i)
		index := append(append([]int{}, under...), i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct:
			m.take(f.Type, index, to)
			continue
		case !f.IsExported() || name == "-":
			continue
		case name == "":
			name = f.Name
		}
		in := to.Fields().ByName(protoreflect.Name(name))
		if in == nil {
			m.fail("%s has no field %s", to.FullName(), name)
			continue
		}
		if f.Type.Kind() == reflect.Pointer && !in.HasPresence() { // what was read as zero would arrive as absent
			m.fail("%s.%s cannot tell zero from absent", to.FullName(), name)
			continue
		}
		one := mirrorField{index: index, name: name, in: in, omitEmpty: strings.Contains(options, "omitempty")}
		holds := f.Type
		for holds.Kind() == reflect.Pointer || holds.Kind() == reflect.Slice {
			if list := holds.Kind() == reflect.Slice; list && !in.IsList() {
				m.fail("%s.%s is no list", to.FullName(), name)
			}
			holds = holds.Elem()
		}
		if holds.Kind() == reflect.Struct && holds != instant {
			if in.Message() == nil {
				m.fail("%s.%s is no message", to.FullName(), name)
				continue
			}
			one.of = makeMirror(holds, in.Message())
		} else if !fits(holds, in) {
			m.fail("%s.%s does not hold a %s", to.FullName(), name, holds)
			continue
		}
		m.fields = append(m.fields, one)
	}
}

// fits says whether a field can hold values of a type that is no struct of a view.
func fits(of reflect.Type, in protoreflect.FieldDescriptor) bool {
	switch of.Kind() {
	case reflect.String:
		return in.Kind() == protoreflect.StringKind
	case reflect.Bool:
		return in.Kind() == protoreflect.BoolKind
	case reflect.Int32:
		return in.Kind() == protoreflect.Int32Kind
	case reflect.Float64:
		return in.Kind() == protoreflect.DoubleKind
	default:
		return of == instant && in.Message() != nil && in.Message().FullName() == "google.protobuf.Timestamp"
	}
}

func (m *mirror) fail(format string, args ...any) {
	if m.err == nil {
		m.err = fmt.Errorf(format, args...)
	}
}

// put fills a message with a struct.
func (m *mirror) put(from reflect.Value, into protoreflect.Message) error {
	if m.err != nil {
		return m.err
	}
	for _, f := range m.fields {
		v := from.FieldByIndex(f.index)
		if f.omitEmpty && empty(v) || v.Kind() == reflect.Pointer && v.IsNil() {
			continue
		}
		if v.Kind() == reflect.Pointer {
			v = v.Elem()
		}
		if v.Kind() == reflect.Slice {
			list := into.Mutable(f.in).List()
			for i := range v.Len() {
				one, err := f.value(v.Index(i), list.NewElement)
				if err != nil {
					return err
				}
				list.Append(one)
			}
			continue
		}
		one, err := f.value(v, func() protoreflect.Value { return into.NewField(f.in) })
		if err != nil {
			return err
		}
		into.Set(f.in, one)
	}
	return nil
}

// empty is what omitempty means in JSON.
func empty(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Slice:
		return v.Len() == 0
	case reflect.Struct:
		return false
	default:
		return v.IsZero()
	}
}

// value of a field or of an element of a list. fresh makes an empty one.
func (f mirrorField) value(v reflect.Value, fresh func() protoreflect.Value) (protoreflect.Value, error) {
	if v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.String:
		// only what is UTF-8
		return protoreflect.ValueOfString(strings.Map(func(r rune) rune { return r }, v.String())), nil
	case reflect.Bool:
		return protoreflect.ValueOfBool(v.Bool()), nil
	case reflect.Int32:
		return protoreflect.ValueOfInt32(int32(v.Int())), nil
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			return protoreflect.Value{}, fmt.Errorf("%s is %v, which no page can show", f.name, x)
		}
		return protoreflect.ValueOfFloat64(v.Float()), nil
	}
	if v.Type() == instant {
		at := timestamppb.New(v.Interface().(time.Time))
		if err := at.CheckValid(); err != nil {
			return protoreflect.Value{}, fmt.Errorf("%s: %w", f.name, err)
		}
		return protoreflect.ValueOfMessage(at.ProtoReflect()), nil
	}
	into := fresh()
	return into, f.of.put(v, into.Message())
}

// get fills a struct with a message.
func (m *mirror) get(from protoreflect.Message, into reflect.Value) error {
	if m.err != nil {
		return m.err
	}
	for _, f := range m.fields {
		if !from.Has(f.in) {
			continue
		}
		v := into.FieldByIndex(f.index)
		if v.Kind() == reflect.Slice {
			list := from.Get(f.in).List()
			v.Set(reflect.MakeSlice(v.Type(), list.Len(), list.Len()))
			for i := range list.Len() {
				if err := f.fill(list.Get(i), v.Index(i)); err != nil {
					return err
				}
			}
			continue
		}
		if err := f.fill(from.Get(f.in), v); err != nil {
			return err
		}
	}
	return nil
}

// fill sets a field, or an element of a list, to a value.
func (f mirrorField) fill(from protoreflect.Value, into reflect.Value) error {
	if into.Kind() == reflect.Pointer {
		into.Set(reflect.New(into.Type().Elem()))
		into = into.Elem()
	}
	switch into.Kind() {
	case reflect.String:
		into.SetString(from.String())
	case reflect.Bool:
		into.SetBool(from.Bool())
	case reflect.Int32:
		into.SetInt(from.Int())
	case reflect.Float64:
		into.SetFloat(from.Float())
	default:
		if into.Type() != instant {
			return f.of.get(from.Message(), into)
		}
		var at *timestamppb.Timestamp
		if known, ok := from.Message().Interface().(*timestamppb.Timestamp); ok {
			at = known
		} else {
			return fmt.Errorf("%s is no instant", f.name)
		}
		if err := at.CheckValid(); err != nil {
			return fmt.Errorf("%s: %w", f.name, err)
		}
		into.Set(reflect.ValueOf(at.AsTime()))
	}
	return nil
}

// To fills the message that mirrors the view.
func To(view any, into proto.Message) error {
	v := reflect.Indirect(reflect.ValueOf(view))
	m := into.ProtoReflect()
	if err := mirrorOf(v.Type(), m.Descriptor()).put(v, m); err != nil {
		return fmt.Errorf("put a view of %T on the wire: %w", view, err)
	}
	return nil
}

// From fills the view, a pointer, that the message mirrors.
func From(message proto.Message, into any) error {
	m := message.ProtoReflect()
	v := reflect.ValueOf(into).Elem()
	if err := mirrorOf(v.Type(), m.Descriptor()).get(m, v); err != nil {
		return fmt.Errorf("take a %s off the wire: %w", m.Descriptor().Name(), err)
	}
	return nil
}
