// Package wire turns views into the messages that mirror them and back, by the names that both have in JSON.
//
// It promises that no field is lost: a view with a field that its message lacks is an error, and a test fills every
// field. What a newer server adds is passed over. No I/O. The messages are in proto/hod/v1/query.proto.
//
// # Decisions
//
// Views are mirrored by messages through their JSON names. Not by hand-written conversion: a forgotten field would be
// a silent zero; here it is an error, and one test fills every field. It costs a second encoding of an answer, which
// is small.
package wire

import (
	"encoding/json"
	"fmt"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
)

// To fills the message that mirrors the view.
func To(view any, into proto.Message) error {
	text, err := json.Marshal(view)
	if err != nil {
		return fmt.Errorf("put a view of %T on the wire: %w", view, err)
	}
	if err := protojson.Unmarshal(text, into); err != nil {
		return fmt.Errorf("put a view of %T on the wire: %w", view, err)
	}
	return nil
}

// From fills the view, a pointer, that the message mirrors.
func From(message proto.Message, into any) error {
	text, err := protojson.MarshalOptions{UseProtoNames: true, EmitUnpopulated: false}.Marshal(message)
	if err != nil {
		return fmt.Errorf("take a %s off the wire: %w", message.ProtoReflect().Descriptor().Name(), err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		return fmt.Errorf("take a %s off the wire: %w", message.ProtoReflect().Descriptor().Name(), err)
	}
	return nil
}
