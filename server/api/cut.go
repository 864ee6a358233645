package api

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/imaging"
)

// Limits of what may be asked of a copy.
const (
	mostEdge  = 1 << 20 // pixels
	mostWidth = 20_000  // mm of print
	mostPPI   = 25_400
)

// deliveredQuality is that of a JPEG made for print: no damage is seen at it (common practice, no source).
const deliveredQuality = 95

var mediaTypes = map[string]string{"tiff": imaging.TIFF, "png": imaging.PNG, "jpeg": imaging.JPEG}

// asked says whether a delivery is wanted otherwise than the file is.
func asked(req *pb.DeliverRequest) bool {
	return req.GetFormat() != "" || req.GetLongEdge() != 0 || req.GetWidthMm() != 0 || req.GetPpi() != 0
}

// wantedCopy verifies what is asked of a copy.
func wantedCopy(req *pb.DeliverRequest) error {
	_, known := mediaTypes[req.GetFormat()]
	width, ppi, edge := req.GetWidthMm(), req.GetPpi(), req.GetLongEdge()
	switch {
	case !asked(req):
		return nil
	case req.GetVariant() != "" && req.GetVariant() != "original":
		return field("variant", "found %q with a format or size; want original: those are made of it", req.GetVariant())
	case req.GetFormat() != "" && !known:
		return field("format", "found %q; want tiff, png or jpeg, or nothing to keep the format", req.GetFormat())
	case edge < 0 || edge > mostEdge:
		return field("long_edge", "found %d; want 1 to %d pixels, or 0 to keep the size", edge, mostEdge)
	case edge != 0 && (width != 0 || ppi != 0):
		return field("long_edge", "is given beside a printed width; want one or the other")
	case !(width >= 0 && width <= mostWidth):
		return field("width_mm", "found %g; want up to %d mm", width, mostWidth)
	case ppi < 0 || ppi > mostPPI:
		return field("ppi", "found %d; want 1 to %d pixels per inch", ppi, mostPPI)
	case (width == 0) != (ppi == 0):
		return field("ppi", "found %d with a width of %g mm; want both or neither", ppi, width)
	default:
		return nil
	}
}

// cutOf says how a wanted copy is made of an original; false if the original is what is wanted, pixel by pixel. Nothing is enlarged: detail that isn't there can't be delivered.
func cutOf(req *pb.DeliverRequest, o *pb.Original) (imaging.Cut, bool, error) {
	c := imaging.Cut{MediaType: o.GetMediaType(), PPI: o.GetPpiX(), Quality: deliveredQuality}
	if req.GetFormat() != "" {
		c.MediaType = mediaTypes[req.GetFormat()]
	}
	w, h := int(o.GetWidth()), int(o.GetHeight())
	if w <= 0 || h <= 0 {
		return c, false, fmt.Errorf("%w: its size isn't known", errNoDelivery)
	}
	switch edge, mm := int(req.GetLongEdge()), req.GetWidthMm(); {
	case mm > 0:
		if n := int(math.Round(mm / 25.4 * float64(req.GetPpi()))); n < w {
			c.OutWidth = max(n, 1)
		}
	case edge > 0 && edge < max(w, h) && w >= h:
		c.OutWidth = edge
	case edge > 0 && edge < max(w, h):
		c.OutHeight = edge
	}
	switch mm := req.GetWidthMm(); {
	case mm > 0: // as wide as wanted, even where there are fewer pixels than wanted
		c.PPI = float64(w) * 25.4 / mm
		if c.OutWidth > 0 {
			c.PPI = float64(req.GetPpi())
		}
	case c.OutWidth > 0: // as large in print as the original
		c.PPI *= float64(c.OutWidth) / float64(w)
	case c.OutHeight > 0:
		c.PPI *= float64(c.OutHeight) / float64(h)
	}
	if c.PPI < 1 || c.PPI > mostPPI {
		c.PPI = 0 // not known, or no resolution that a file can state
	}
	if c.OutWidth == 0 && c.OutHeight == 0 && c.MediaType == o.GetMediaType() {
		return c, false, nil
	}
	for _, known := range mediaTypes {
		if known == c.MediaType {
			return c, true, nil
		}
	}
	return c, false, field("format", "is missing; the original is %s: want tiff, png or jpeg", o.GetMediaType())
}

// cutFile makes the copy in a folder.
func (s transferService) cutFile(ctx context.Context, dir string, sum storage.Digest, c imaging.Cut) (_ *os.File, size int64, err error) {
	f, err := os.CreateTemp(dir, "cut-*")
	if err != nil {
		return nil, 0, fmt.Errorf("make the copy: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, f.Close())
		}
	}()
	if _, err := s.previews.Cut(ctx, sum, c, f); err != nil {
		return nil, 0, noDelivery(err)
	}
	size, err = f.Seek(0, io.SeekCurrent)
	return f, size, err
}

// noDelivery marks what can't be made of a file as a refusal.
func noDelivery(err error) error {
	var fault *imaging.Fault
	if errors.As(err, &fault) {
		return fmt.Errorf("%w: %w", errNoDelivery, err)
	}
	return err
}

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
