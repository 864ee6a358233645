package sheet

import (
	"bytes"
	"fmt"
	"image/png"
	"io"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage/imaging"
)

// dozen is a plan of twelve structures, each from a scan of its own of 35 megapixels (A4 at 600 ppi).
func dozen(b *testing.B) *studio {
	s := bass(b)
	var scan bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&scan, lens(7016, 4960)); err != nil {
		b.Fatal(err)
	}
	model := s.plan.GetStructures()[0]
	s.plan.Structures = nil
	for i := range 12 {
		st := proto.CloneOf(model)
		st.Structure = fmt.Sprintf("structure %d", i+1)
		st.Candidates = st.GetCandidates()[:1]
		c := st.GetCandidates()[0]
		c.Picture = &pb.Picture{Name: fmt.Sprintf("pictures/scan-%d", i), Title: "Scan", Original: &pb.Original{Width: 7016, Height: 4960, PpiX: 600, PpiY: 600, BitDepth: 8, ColorModel: "gray"}}
		c.Scale.ToSizeMmPerPixel = 0.04
		c.Region = &pb.Region{X: 0.1, Y: 0.1, Width: 0.3, Height: 0.3}
		s.cutter.originals[c.GetPicture().GetName()] = scan.Bytes()
		s.plan.Structures = append(s.plan.Structures, st)
	}
	return s
}

func BenchmarkTwelveStructures(b *testing.B) {
	s := dozen(b)
	b.Run("sheets", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if err := PDF(b.Context(), s.job(b), s.cutter, io.Discard); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("crops", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if err := (Crops{Job: s.job(b), MediaType: imaging.TIFF, Depth: 16}).Zip(b.Context(), s.cutter, io.Discard); err != nil {
				b.Fatal(err)
			}
		}
	})
}
