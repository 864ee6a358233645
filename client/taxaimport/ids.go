package taxaimport

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"strings"

	"google.golang.org/protobuf/proto"

	"platarium/indexer/taxon"
)

// Ids of the archive have 4 to 63 lower-case letters, digits and hyphens.
var (
	plainID  = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,28}[a-z0-9]$|^[a-z0-9]$`)
	notPlain = regexp.MustCompile(`[^a-z0-9]+`)
)

const (
	longestSlug = 30
	hashDigits  = 20 // 80 bits
)

// ownID derives the id of a new taxon from the name of its list and the id that it has there: the same for the same two at any time. A short plain id stays
// readable (reef-fishes-17), any other is hashed.
func ownID(list, id string) string {
	slug := strings.Trim(notPlain.ReplaceAllString(taxon.Fold(list), "-"), "-")
	if len(slug) > longestSlug {
		slug = strings.TrimRight(slug[:longestSlug], "-")
	}
	if slug != "" && plainID.MatchString(id) && len(slug)+len(id) >= 3 {
		return slug + "-" + id
	}
	sum := sha256.Sum256([]byte(list + "\x00" + id))
	return strings.TrimPrefix(slug+"-x", "-") + hex.EncodeToString(sum[:])[:hashDigits]
}

// requestID derives a request id from what is asked and from the commit that the asker had seen, so that a repetition is known for one while a later import of
// the same is a new wish.
func requestID(verb string, m proto.Message, since int64) (string, error) {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	h.Write(fmt.Appendf(nil, "%s\n%d\n", verb, since))
	h.Write(b)
	return "taxa-" + hex.EncodeToString(h.Sum(nil))[:48], nil
}
