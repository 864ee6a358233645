package archive

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/imaging"
)

// headerCache remembers what was read from the headers of originals, so that an upload and the record that follows read them once.
type headerCache struct {
	mu    sync.Mutex
	known map[string]*pb.Original
	order []string
}

const headersKept = 4096

func (h *headerCache) get(sum string) *pb.Original {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.known[sum]
}

func (h *headerCache) put(o *pb.Original) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.known == nil {
		h.known = map[string]*pb.Original{}
	}
	if _, ok := h.known[o.GetSha256()]; !ok {
		h.order = append(h.order, o.GetSha256())
	}
	h.known[o.GetSha256()] = o
	if len(h.order) > headersKept {
		delete(h.known, h.order[0])
		h.order = h.order[1:]
	}
}

// DescribeOriginal reads what an original's header says. A file that can't be understood is described by its size and a remark.
func (a *Archive) DescribeOriginal(ctx context.Context, sum storage.Digest, fileName string) (*pb.Original, error) {
	if o := a.headers.get(sum.String()); o != nil {
		return withNameRemark(o, fileName), nil
	}
	size, ok, err := a.originals.Has(ctx, sum)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, missing(sum.String())
	}
	o := &pb.Original{Sha256: sum.String(), Size: size}
	h, err := imaging.Probe(ctx, a.originals.ReaderAt(ctx, sum, size), size)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	var fault *imaging.Fault
	switch {
	case errors.As(err, &fault):
		o.Remarks = append(o.Remarks, fault.Error())
	case err != nil:
		return nil, fmt.Errorf("read the header of %s: %w", sum, err)
	}
	describe(o, h)
	a.headers.put(o)
	return withNameRemark(o, fileName), nil
}

func describe(o *pb.Original, h imaging.Header) {
	w, hh := h.Oriented()
	o.MediaType = h.MediaType
	o.Width, o.Height = int32(min(w, math.MaxInt32)), int32(min(hh, math.MaxInt32))
	o.PpiX, o.PpiY = h.PPIX, h.PPIY
	o.BitDepth = int32(h.BitsPerSample)
	o.ColorModel = string(h.Model)
	o.IccProfile = h.ICCProfile
	o.Compression = h.Compression
	o.Pages = int32(min(h.Pages, math.MaxInt32))
	o.Remarks = append(o.Remarks, h.Warnings...)
	if most := imaging.DefaultLimits().StreamedPixels; h.Pixels() > most {
		o.Remarks = append(o.Remarks, fmt.Sprintf("claims %d x %d pixels, more than the %d that are decoded: the file is kept and gets no preview", w, hh, most))
	}
}

// describeOriginal fills the picture's original from the file itself.
func (a *Archive) describeOriginal(ctx context.Context, c *checks, p *pb.Picture) error {
	if p.GetOriginal() == nil {
		return nil
	}
	sum, err := storage.ParseDigest(p.GetOriginal().GetSha256())
	if err != nil {
		c.add("original.sha256", "%s", err)
		return nil
	}
	o, err := a.DescribeOriginal(ctx, sum, p.GetProvenance().GetFileName())
	if err != nil {
		return err
	}
	p.Original = o
	return nil
}

func withNameRemark(o *pb.Original, fileName string) *pb.Original {
	remark := ""
	if fileName != "" {
		remark = imaging.Header{MediaType: o.GetMediaType()}.Mislabelled(fileName)
	}
	if remark == "" {
		return o
	}
	o = proto.Clone(o).(*pb.Original)
	o.Remarks = append(o.Remarks, remark)
	return o
}

// haveOriginals verifies, before a record is submitted, that the originals it names are there.
func (a *Archive) haveOriginals(ctx context.Context, r Record) error {
	for _, hex := range originalsOf(r) {
		sum, err := storage.ParseDigest(hex)
		if err != nil {
			continue // the record's own validation says so, with the field
		}
		if _, ok, err := a.HasOriginal(ctx, sum); err != nil {
			return err
		} else if !ok {
			return missing(hex)
		}
	}
	return nil
}

// originalsPresent verifies, while a commit is planned, that no original that the record names was announced for sweeping since haveOriginals or
// describeOriginal saw it.
func (v *View) originalsPresent(r Record) error {
	for _, hex := range originalsOf(r) {
		if !v.state.swept(hex) {
			continue
		}
		sum, err := storage.ParseDigest(hex)
		if err != nil {
			return err
		}
		ctx, cancel := context.WithTimeout(context.Background(), storeTimeout)
		ok, err := v.archive.usable(ctx, v.state, sum)
		cancel()
		if err != nil {
			return err
		}
		if !ok {
			return missing(hex)
		}
	}
	return nil
}

func missing(hex string) error {
	return fmt.Errorf("%w: %s; send it first, again if it was swept as unused", ErrNoOriginal, hex)
}

// storeTimeout bounds a look into the bucket while a commit is being planned.
const storeTimeout = 30 * time.Second

// WithoutPreviews lists the originals of pictures, hex, that are not among those that have previews.
func (a *Archive) WithoutPreviews(ctx context.Context, have map[string]bool) ([]string, error) {
	var out []string
	_, pictures := a.Pictures(ctx)
	for p, err := range pictures {
		if err != nil {
			return nil, err
		}
		if sum := p.GetOriginal().GetSha256(); sum != "" && !have[sum] {
			out = append(out, sum)
		}
	}
	return out, nil
}
