package imaging

import "image"

// flat is a picture being made row by row: gray or opaque color, of 8 or 16 bits. One of the four is set.
type flat struct {
	gray   *image.Gray
	gray16 *image.Gray16
	rgb    *image.RGBA
	rgb16  *image.NRGBA64
}

func newFlat(width, height, channels, depth int) flat {
	box := image.Rect(0, 0, width, height)
	switch {
	case channels == 1 && depth == 8:
		return flat{gray: image.NewGray(box)}
	case channels == 1:
		return flat{gray16: image.NewGray16(box)}
	case depth == 8:
		return flat{rgb: image.NewRGBA(box)}
	default:
		return flat{rgb16: image.NewNRGBA64(box)}
	}
}

func (f flat) image() image.Image {
	switch {
	case f.gray != nil:
		return f.gray
	case f.gray16 != nil:
		return f.gray16
	case f.rgb != nil:
		return f.rgb
	default:
		return f.rgb16
	}
}

// setRow takes samples of 0 to 255 whatever the depth.
func (f flat) setRow(y int, v []float32) {
	switch {
	case f.gray != nil:
		row := f.gray.Pix[y*f.gray.Stride:]
		for x, s := range v {
			row[x] = to8(s)
		}
	case f.gray16 != nil:
		row := f.gray16.Pix[y*f.gray16.Stride:]
		for x, s := range v {
			put16(row[2*x:], s)
		}
	case f.rgb != nil:
		row := f.rgb.Pix[y*f.rgb.Stride:]
		for x := range len(v) / 3 {
			row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = to8(v[3*x]), to8(v[3*x+1]), to8(v[3*x+2]), 0xff
		}
	default:
		row := f.rgb16.Pix[y*f.rgb16.Stride:]
		for x := range len(v) / 3 {
			for c := range 3 {
				put16(row[8*x+2*c:], v[3*x+c])
			}
			row[8*x+6], row[8*x+7] = 0xff, 0xff
		}
	}
}

func to8(v float32) uint8 { return uint8(min(max(v+0.5, 0), 255)) }

func put16(dst []byte, v float32) {
	u := uint16(min(max(v*257+0.5, 0), 65535))
	dst[0], dst[1] = byte(u>>8), byte(u)
}
