package rest

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"slices"

	"google.golang.org/grpc"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
)

// unary answers with one message.
type unary struct{ *call }

func (u unary) answer(w http.ResponseWriter, r *http.Request) error {
	req, err := u.request(w, r)
	if err != nil {
		return err
	}
	res, err := u.invoke(r, req)
	if err != nil {
		return err
	}
	b, err := protojson.Marshal(res)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(b, '\n')) // a caller who is gone hears nothing
	return nil
}

// lines answers with one message a line, each sent as soon as it is there. If the stream fails after its first message, the last line is an object with nothing but error, a google.rpc.Status.
type lines struct{ *call }

func (l lines) answer(w http.ResponseWriter, r *http.Request) error {
	req, err := l.request(w, r)
	if err != nil {
		return err
	}
	s, err := l.ask(r, req)
	if err != nil {
		return err
	}
	res := l.out.New().Interface()
	if err = s.RecvMsg(res); err != nil && !errors.Is(err, io.EOF) {
		return err // while the status can still be said
	}
	w.Header().Set("Content-Type", "application/x-ndjson")
	flush := http.NewResponseController(w)
	for err == nil {
		var b []byte
		if b, err = protojson.Marshal(res); err != nil {
			break
		}
		if _, err := w.Write(append(b, '\n')); err != nil {
			return nil //nolint:nilerr // the caller is gone, and the stream ends with the request
		}
		_ = flush.Flush() // where it can't be done, lines come later
		proto.Reset(res)
		err = s.RecvMsg(res)
	}
	if !errors.Is(err, io.EOF) {
		_, _ = w.Write(slices.Concat([]byte(`{"error":`), bytes.TrimSpace(statusJSON(status.Convert(err))), []byte("}\n")))
	}
	return nil
}

// ask sends the one request of a stream that answers.
func (c *call) ask(r *http.Request, req proto.Message) (grpc.ClientStream, error) {
	s, err := c.open(r, grpc.StreamDesc{ServerStreams: true})
	if err != nil {
		return nil, err
	}
	if err := s.SendMsg(req); err != nil && !errors.Is(err, io.EOF) { // io.EOF: the reason comes with the answer
		return nil, err
	}
	return s, s.CloseSend()
}
