package api

import (
	"fmt"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// askedWords says in words how a delivered copy was wanted; empty for one as it is.
func askedWords(d *pb.Delivery) string {
	var parts []string
	if d.GetFormat() != "" {
		parts = append(parts, strings.ToUpper(d.GetFormat()))
	}
	if d.GetLongEdge() > 0 {
		parts = append(parts, fmt.Sprintf("%d pixels on the longer edge", d.GetLongEdge()))
	}
	if d.GetWidthMm() > 0 {
		parts = append(parts, fmt.Sprintf("%g mm wide at %d ppi", d.GetWidthMm(), d.GetPpi()))
	}
	return strings.Join(parts, ", ")
}
