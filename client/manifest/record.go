package manifest

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

// requestID derives a request id from what is asked and from where the archive stood when the import began, so that a repetition is known for one, and the
// same wish after other changes isn't. A repeated import makes no doubles because ids derive from content.
func (im *importer) requestID(verb string, m proto.Message, more ...string) string {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		b = []byte(err.Error()) // only text that isn't UTF-8 does that, which the reader refused; the send fails with it
	}
	h := sha256.New()
	h.Write(fmt.Appendf(nil, "%s\n%d\n%d\n", verb, im.since, len(b)))
	h.Write(b)
	h.Write([]byte("\n" + strings.Join(more, "\n")))
	return "import-" + hex.EncodeToString(h.Sum(nil))[:48]
}

// differing lists the fields of a record, of those that a row speaks of, that have another value in the archive.
func differing(wanted, there proto.Message, paths []string) (fields []string) {
	for _, path := range paths {
		if sameAt(wanted.ProtoReflect(), there.ProtoReflect(), path) {
			continue
		}
		fields = append(fields, path)
		if path == "identification.scientific_name" && !slices.Contains(paths, "identification.taxon") {
			fields = append(fields, "identification.taxon") // follows the name
		}
	}
	return fields
}

// columnsOf names the columns that fields come from, each once.
func columnsOf(fields []string, columns []Column) string {
	var list []string
	for _, f := range fields {
		if f == "identification.taxon" && slices.Contains(fields, "identification.scientific_name") {
			continue
		}
		if name := columnOf(f, columns); !slices.Contains(list, name) {
			list = append(list, name)
		}
	}
	return strings.Join(list, ", ")
}

func sameAt(a, b protoreflect.Message, path string) bool {
	head, rest, deep := strings.Cut(path, ".")
	f := a.Descriptor().Fields().ByName(protoreflect.Name(head))
	if deep {
		return sameAt(a.Get(f).Message(), b.Get(f).Message(), rest)
	}
	x, y := a.Get(f), b.Get(f)
	switch head {
	case "counts":
		return x.Message().Interface().(*pb.Counts).GetFormula() == y.Message().Interface().(*pb.Counts).GetFormula()
	case "original":
		return x.Message().Interface().(*pb.Original).GetSha256() == y.Message().Interface().(*pb.Original).GetSha256()
	}
	return a.Has(f) == b.Has(f) && x.Equal(y)
}

var indexes = regexp.MustCompile(`\[[0-9]+\]`)

// columnOf names the column that a field of the record comes from.
func columnOf(path string, columns []Column) string {
	path = indexes.ReplaceAllString(path, "")
	switch {
	case strings.HasPrefix(path, "original"):
		return "file"
	case strings.HasPrefix(path, "identification.taxon") && columnNamed(columns, "file") != nil:
		return "taxon"
	}
	for i := range columns {
		for _, p := range columns[i].paths {
			if path == p || strings.HasPrefix(path, p+".") {
				return columns[i].Name
			}
		}
	}
	return path
}

func differsText(fields []string, columns []Column) string {
	return "it exists and differs in " + columnsOf(fields, columns) + "; want it left out here, or the archive's record changed with --update"
}

// problemOf reads the details of a call's error as the batch call gives them; nil for nil.
func problemOf(err error) *pb.Problem {
	if err == nil {
		return nil
	}
	var s interface{ GRPCStatus() *status.Status }
	if !errors.As(err, &s) {
		return &pb.Problem{Message: err.Error()}
	}
	st := s.GRPCStatus()
	p := &pb.Problem{Code: int32(st.Code()), Message: st.Message()}
	for _, d := range st.Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			p.Reason = d.GetReason()
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				p.Violations = append(p.Violations, &pb.FieldViolation{Field: v.GetField(), Description: v.GetDescription()})
			}
		}
	}
	return p
}

// problemText says in terms of columns why the archive refused a row.
func problemText(s *sheet, p *pb.Problem) string {
	if len(p.GetViolations()) == 0 {
		return p.GetMessage()
	}
	columns := make([]Column, 0, len(s.columns))
	for _, c := range s.columns {
		columns = append(columns, *c)
	}
	faults := make([]fault, len(p.GetViolations()))
	for i, v := range p.GetViolations() {
		faults[i] = fault{columnOf(v.GetField(), columns), v.GetDescription()}
	}
	return reasonOf(faults)
}
