package imaging

import "image"

// turn is a mirror image (left and right exchanged) if mirror is set, then quarter turns clockwise, 0 to 3. The eight of them are the orientations of Exif.
type turn struct {
	mirror   bool
	quarters int
}

// turns are the Exif orientations 1 to 8: how the stored picture is to be turned to be seen upright (Exif 2.3, tag 274).
var turns = [...]turn{{false, 0}, {true, 0}, {false, 2}, {true, 2}, {true, 3}, {false, 1}, {true, 1}, {false, 3}}

// turnOf is the turn of an Exif orientation; none for values that mean nothing.
func turnOf(orientation int) turn {
	if orientation < 1 || orientation > len(turns) {
		return turn{}
	}
	return turns[orientation-1]
}

// then is t followed by u. A mirror image after a turn is the contrary turn after a mirror image.
func (t turn) then(u turn) turn {
	if u.mirror {
		t.quarters = -t.quarters
	}
	return turn{t.mirror != u.mirror, (t.quarters + u.quarters + 4) % 4}
}

// size gives width and height after the turn.
func (t turn) size(width, height int) (int, int) {
	if t.quarters%2 == 1 {
		return height, width
	}
	return width, height
}

// source finds the pixel of a picture of w by h that is seen at x, y after the turn.
func (t turn) source(x, y, w, h int) (int, int) {
	switch t.quarters {
	case 1:
		x, y = y, h-1-x
	case 2:
		x, y = w-1-x, h-1-y
	case 3:
		x, y = w-1-y, x
	}
	if t.mirror {
		x = w - 1 - x
	}
	return x, y
}

// orient turns a picture so that Exif orientation o reads upright.
func orient(m image.Image, o int) image.Image { return turnOf(o).apply(m) }

// apply turns one of the types of flat.
func (t turn) apply(m image.Image) image.Image {
	if t == (turn{}) {
		return m
	}
	w, h := m.Bounds().Dx(), m.Bounds().Dy()
	ow, oh := t.size(w, h)
	switch m := m.(type) {
	case *image.Gray:
		out := newFlat(ow, oh, 1, 8).gray
		t.move(out.Pix, m.Pix, m.Stride, 1, w, h)
		return out
	case *image.Gray16:
		out := newFlat(ow, oh, 1, 16).gray16
		t.move(out.Pix, m.Pix, m.Stride, 2, w, h)
		return out
	case *image.RGBA:
		out := newFlat(ow, oh, 3, 8).rgb
		t.move(out.Pix, m.Pix, m.Stride, 4, w, h)
		return out
	case *image.NRGBA64:
		out := newFlat(ow, oh, 3, 16).rgb16
		t.move(out.Pix, m.Pix, m.Stride, 8, w, h)
		return out
	default:
		out := newFlat(ow, oh, 3, 8).rgb
		for y := range oh {
			for x := range ow {
				sx, sy := t.source(x, y, w, h)
				out.Set(x, y, m.At(m.Bounds().Min.X+sx, m.Bounds().Min.Y+sy))
			}
		}
		return out
	}
}

// move fills dst with the pixels of src, each of n bytes; w and h are the size of src.
func (t turn) move(dst, src []byte, stride, n, w, h int) {
	ow, oh := t.size(w, h)
	for y := range oh {
		for x := range ow {
			sx, sy := t.source(x, y, w, h)
			at := sy*stride + sx*n
			copy(dst[(y*ow+x)*n:][:n], src[at:at+n])
		}
	}
}
