package cli

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

type enum interface {
	protoreflect.Enum
	~int32
}

// setEnum reads one enum from words; empty leaves it.
func setEnum[E enum](to *E, s string) error {
	e, err := parseEnum[E](s)
	*to = e
	return err
}

// setEnums reads a list parted by commas.
func setEnums[E enum](to *[]E, s string) error {
	if s == "" {
		return nil
	}
	for part := range strings.SplitSeq(s, ",") {
		e, err := parseEnum[E](strings.TrimSpace(part))
		if err != nil {
			return err
		}
		*to = append(*to, e)
	}
	return nil
}

// resolveTaxon turns a name into a resource name. Only an exact spelling is taken; near ones are offered.
func resolveTaxon(ctx context.Context, c *client.Client, s string) (string, error) {
	if strings.HasPrefix(s, "taxa/") {
		return s, nil
	}
	res, err := c.Taxa.MatchNames(ctx, &pb.MatchNamesRequest{Names: []string{s}, Limit: 3})
	if err != nil {
		return "", err
	}
	var near []string
	for _, m := range res.GetMatches()[0].GetCandidates() {
		if m.GetExact() {
			return m.GetAccepted(), nil
		}
		near = append(near, fmt.Sprintf("%s (%s)", m.GetAcceptedName(), m.GetReason()))
	}
	if len(near) == 0 {
		return "", Code(Missing, fmt.Errorf("no taxon is called %q", s))
	}
	return "", Code(Missing, fmt.Errorf("no taxon is called %q; near it: %s", s, strings.Join(near, ", ")))
}
