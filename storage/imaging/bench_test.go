package imaging

import (
	"bytes"
	"image"
	"testing"

	"golang.org/x/image/tiff"
)

// BenchmarkPreviewsA4 makes the previews of an A4 page at 600 ppi (4961 by 7016 pixels) in gray of 8 bits, LZW, through the child process: the
// time is what one picture takes to its previews. MiB-peak is the largest resident memory of the child or of what it started.
func BenchmarkPreviewsA4(b *testing.B) {
	src := hatching(4961, 7016)
	packed := convert(b, encodeTIFF(b, src, nil), "out.tif", "vips", "tiffsave", "in[access=sequential]", "out.tif", "--compression", "lzw")
	line := convert(b, encodeTIFF(b, src, nil), "out.tif", "vips", "tiffsave", "in[access=sequential]", "out.tif", "--bitdepth", "1", "--compression", "ccittfax4")
	color := encodeTIFF(b, as(image.NewRGBA(src.Rect), src), &tiff.Options{Compression: tiff.Deflate})
	for name, file := range map[string][]byte{"gray LZW": packed, "line art G4": line, "RGB deflate": color} {
		for decoder, d := range bothDecoders {
			b.Run(decoder+"/"+name, func(b *testing.B) {
				r := newRunner(b, d, Limits{})
				before := childTime(b)
				for b.Loop() {
					derived(b, r, file)
				}
				b.ReportMetric((childTime(b)-before).Seconds()/float64(b.N), "processor-s/op")
				b.ReportMetric(float64(childPeak(b, r.cfg.TempDir))/(1<<20), "MiB-peak")
				h := probe(b, file)
				need := h.DecodeBytes()
				if d == OnlyVips {
					need = h.streamBytes()
				}
				b.ReportMetric(float64(need)/(1<<20), "MiB-estimated")
			})
		}
	}
}

// BenchmarkProbe reads the header of a file in memory.
func BenchmarkProbe(b *testing.B) {
	for _, name := range []string{"baseline.jpg", "interlaced.png", "rgb-lzw.tif"} {
		file := fixture(b, name)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Probe(b.Context(), bytes.NewReader(file), int64(len(file))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
