package archive

import (
	"crypto/rand"
	"encoding/base32"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
)

// Record is any resource of the archive.
type Record interface {
	proto.Message
	GetName() string
	GetRevision() int64
	GetEtag() string
	GetCreateTime() *timestamppb.Timestamp
	GetUpdateTime() *timestamppb.Timestamp
}

// Collections, the first segments of resource names.
const (
	Pictures  = "pictures"
	Specimens = "specimens"
	Taxa      = "taxa"
	Parties   = "parties"
	Grants    = "grants"
	Uses      = "uses"
	Briefs    = "briefs"
	Keys      = "keys"
)

// collections in the order in which a checkpoint writes them: what is named comes before what names it, but for pictures that derive from pictures.
var collections = [...]string{Taxa, Parties, Keys, Specimens, Pictures, Grants, Uses, Briefs}

// recordOf takes the record out of a change; nil when it is a deletion.
func recordOf(c *pb.Change) Record {
	switch r := c.GetRecord().(type) {
	case *pb.Change_Picture:
		return r.Picture
	case *pb.Change_Specimen:
		return r.Specimen
	case *pb.Change_Taxon:
		return r.Taxon
	case *pb.Change_Party:
		return r.Party
	case *pb.Change_Grant:
		return r.Grant
	case *pb.Change_Use:
		return r.Use
	case *pb.Change_Key:
		return r.Key
	case *pb.Change_Brief:
		return r.Brief
	}
	return nil
}

// changeOf wraps a record as the journal has it.
func changeOf(r Record) *pb.Change {
	c := &pb.Change{Name: r.GetName()}
	switch r := r.(type) {
	case *pb.Picture:
		c.Record = &pb.Change_Picture{Picture: r}
	case *pb.Specimen:
		c.Record = &pb.Change_Specimen{Specimen: r}
	case *pb.Taxon:
		c.Record = &pb.Change_Taxon{Taxon: r}
	case *pb.Party:
		c.Record = &pb.Change_Party{Party: r}
	case *pb.Grant:
		c.Record = &pb.Change_Grant{Grant: r}
	case *pb.Use:
		c.Record = &pb.Change_Use{Use: r}
	case *pb.Key:
		c.Record = &pb.Change_Key{Key: r}
	case *pb.Brief:
		c.Record = &pb.Change_Brief{Brief: r}
	}
	return c
}

// stamp sets the fields that the server owns on every record.
func stamp(r Record, name string, revision int64, created *timestamppb.Timestamp, now time.Time) {
	m := r.ProtoReflect()
	fields := m.Descriptor().Fields()
	set := func(field string, v protoreflect.Value) { m.Set(fields.ByName(protoreflect.Name(field)), v) }
	updated := timestamppb.New(now)
	if created == nil {
		created = updated
	}
	set("name", protoreflect.ValueOfString(name))
	set("revision", protoreflect.ValueOfInt64(revision))
	set("etag", protoreflect.ValueOfString(strconv.FormatInt(revision, 10)))
	set("create_time", protoreflect.ValueOfMessage(created.ProtoReflect()))
	set("update_time", protoreflect.ValueOfMessage(updated.ProtoReflect()))
}

// SplitName divides a resource name into collection and id.
func SplitName(name string) (collection, id string, ok bool) {
	collection, id, ok = strings.Cut(name, "/")
	if !ok {
		return "", "", false
	}
	for _, c := range collections {
		if c == collection {
			return collection, id, idPattern(collection).MatchString(id)
		}
	}
	return "", "", false
}

var (
	plainID = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{2,61}[a-z0-9]$`)
	// Ids of the embedded base are an upper-case T and digits; the studio's own taxa follow the plain rule.
	taxonID = regexp.MustCompile(`^(T[0-9]{6,}|[a-z0-9][a-z0-9-]{2,61}[a-z0-9])$`)
)

func idPattern(collection string) *regexp.Regexp {
	if collection == Taxa {
		return taxonID
	}
	return plainID
}

// NewID makes a random id of 16 letters and digits (80 bits).
func NewID() string {
	var b [10]byte
	if _, err := rand.Read(b[:]); err != nil {
		panic("no randomness: " + err.Error()) // documented never to fail
	}
	return strings.ToLower(base32.StdEncoding.EncodeToString(b[:]))
}

// checkName verifies that a reference points into the collection wanted.
func (c *checks) name(field, name, collection string, required bool) bool {
	if name == "" {
		if required {
			c.add(field, "is missing; want %s/{id}", collection)
		}
		return false
	}
	got, _, ok := SplitName(name)
	if !ok || got != collection {
		c.add(field, "found %q; want %s/{id}", name, collection)
		return false
	}
	return true
}

// text verifies the length of a free text.
func (c *checks) text(field, s string, limit int) {
	if len(s) > limit {
		c.add(field, "is %d bytes long; want at most %d", len(s), limit)
	}
}

// oneOf verifies that an enum has a known value.
func (c *checks) known(field string, n int32, names map[int32]string) {
	if _, ok := names[n]; !ok {
		c.add(field, "found %d; want one of the known values", n)
	}
}

func indexed(field string, i int) string { return fmt.Sprintf("%s[%d]", field, i) }
