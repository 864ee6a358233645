package imaging

// choose picks the decoder for a picture within the limits: libvips where it is there and reads the variant, else pure Go. The fault says why
// neither will do and what would help.
func choose(h Header, lim Limits, haveVips bool) (useVips bool, f *Fault) {
	switch h.MediaType {
	case JPEG, PNG, TIFF, WebP, GIF:
	default:
		return false, fault(ErrUnsupported, "the original is kept; for a preview send a TIFF, PNG or JPEG beside it",
			"%s files get no preview", shortName(h.MediaType))
	}
	if f := nobodyReads(h); f != nil {
		return false, f
	}
	if haveVips {
		return true, withinVips(h, lim)
	}
	if f := goRefusal(h); f != nil {
		return false, f
	}
	return false, withinGo(h, lim)
}

// nobodyReads refuses what no decoder turns into a sound preview.
func nobodyReads(h Header) *Fault {
	l := h.layout
	switch {
	case h.MediaType == JPEG && (l.jpegSOF > 0xc2 || h.BitsPerSample != 8):
		return fault(ErrUnsupported, rightExport, "%s with %d bits a sample", h.Compression, h.BitsPerSample)
	case h.MediaType == TIFF && l.format != 1 && h.Model != Lab:
		return fault(ErrUnsupported, "export it with 8 or 16 bits of unsigned integers", "samples aren't unsigned integers (TIFF sample format %d)", l.format)
	case h.BitsPerSample > 16 && h.Model != Lab:
		return fault(ErrUnsupported, "export it with 8 or 16 bits a sample", "%d bits a sample", h.BitsPerSample)
	case h.Model == OtherCM:
		return fault(ErrUnsupported, "export it as gray, RGB or CMYK", "color model isn't known (%d samples)", h.SamplesPerPixel)
	default:
		return nil
	}
}

// goRefusal says why the pure Go decoders must not be asked. Several of them would not fail on these variants but decode them wrongly.
func goRefusal(h Header) *Fault {
	l := h.layout
	no := func(what string) *Fault {
		return fault(ErrUnsupported, rightVips, "%s isn't decoded without libvips", what)
	}
	switch {
	case h.MediaType == WebP && l.animated:
		return no("an animated WebP")
	case h.MediaType != TIFF:
		return nil
	case h.BigTIFF:
		return no("BigTIFF")
	case l.planar:
		return no("a TIFF with separate color planes")
	case h.Model == CMYK, h.Model == Lab:
		return no("a TIFF in " + string(h.Model))
	case l.photometric == inYCbCr:
		return no("a TIFF in YCbCr")
	case l.unsorted:
		return no("a TIFF whose fields are out of order")
	case l.predictor > 2 || l.predictor == 2 && h.BitsPerSample < 8:
		return no("a TIFF with this predictor")
	case l.mixedBits, h.BitsPerSample != 1 && h.BitsPerSample != 8 && h.BitsPerSample != 16:
		return no("a TIFF with this number of bits a sample")
	case h.Model == Palette && h.BitsPerSample > 8:
		return no("a TIFF with a palette of 16 bits")
	case h.Model == GrayAlpha, h.Model == RGB && h.SamplesPerPixel != 3, h.Model == RGBA && h.SamplesPerPixel != 4,
		(h.Model == RGB || h.Model == RGBA) && h.BitsPerSample == 1:
		return no("a TIFF with these samples")
	default:
		return goTIFFCompression(h, no)
	}
}

func goTIFFCompression(h Header, no func(string) *Fault) *Fault {
	l := h.layout
	switch l.compression {
	case 3, 4:
		if l.compression == 3 && l.t4options&1 != 0 {
			return no("two-dimensional CCITT G3")
		}
		if h.Model != Bilevel {
			return no("CCITT compression of this picture")
		}
		return nil
	case 1, 5, 8, 32773, 32946:
		if l.fillReverse {
			return no("a TIFF with reversed bits")
		}
		return nil
	default:
		return no("TIFF compression " + h.Compression)
	}
}

func withinVips(h Header, lim Limits) *Fault {
	most, how := lim.WholePixels, "held whole"
	if h.layout.streams {
		most, how = lim.StreamedPixels, "streamed"
	}
	if p := h.Pixels(); p > most {
		return fault(ErrTooBig, "raise the pixel limit if the picture is sound", "%d by %d pixels; at most %d million are decoded %s", h.Width, h.Height, most/1e6, how)
	}
	if need := h.streamBytes(); need > lim.Memory {
		return fault(ErrTooBig, "raise the memory limit if the picture is sound", "needs about %s (%d bytes) to decode; the limit is %s", mib(need), need, mib(lim.Memory))
	}
	return nil
}

func withinGo(h Header, lim Limits) *Fault {
	right := "raise the limit if the picture is sound"
	if withinVips(h, lim) == nil {
		right = "install libvips-tools, which decodes it within the limits"
	}
	if p := h.Pixels(); p > lim.WholePixels {
		return fault(ErrTooBig, right, "%d by %d pixels, needs %d bytes to decode; at most %d million pixels are decoded whole",
			h.Width, h.Height, h.DecodeBytes(), lim.WholePixels/1e6)
	}
	if need := h.DecodeBytes(); need > lim.Memory {
		return fault(ErrTooBig, right, "needs about %s (%d bytes) to decode; the limit is %s", mib(need), need, mib(lim.Memory))
	}
	return nil
}
