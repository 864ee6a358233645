package demo

import "platarium/client/demo/draw"

// The figures below are drawn from memory of the families' habit: proportions
// and colors serve to tell the plates apart, not to identify a species. Counts
// come from the specimens, never from here.

// Names of fins and other structures, as the archive's records use them.
const (
	dorsalFin  = "dorsal fin"
	dorsal1    = "first dorsal fin"
	dorsal2    = "second dorsal fin"
	dorsal3    = "third dorsal fin"
	analFin    = "anal fin"
	anal1      = "first anal fin"
	anal2      = "second anal fin"
	pectoral   = "pectoral fin"
	pelvic     = "pelvic fin"
	caudal     = "caudal fin"
	adiposeFin = "adipose fin"
)

func dorsal(name string, from, to, height, incision float64, profile ...float64) draw.FinSpec {
	return draw.FinSpec{Name: name, Kind: draw.DorsalFin, From: from, To: to, Height: height, Incision: incision, Profile: profile}
}

func anal(name string, from, to, height float64, profile ...float64) draw.FinSpec {
	return draw.FinSpec{Name: name, Kind: draw.AnalFin, From: from, To: to, Height: height, Incision: 0.5, Profile: profile}
}

func tail(shape draw.Caudal, height, spread float64) draw.FinSpec {
	return draw.FinSpec{Name: caudal, Kind: draw.CaudalFin, Shape: shape, Height: height, Spread: spread}
}

// breast is a pectoral fin; y is its height on the flank, lean how far it
// points down in degrees.
func breast(height, y, lean, spread float64) draw.FinSpec {
	return draw.FinSpec{Name: pectoral, Kind: draw.PectoralFin, Height: height, Y: y, Lean: [2]float64{lean, 0}, Spread: spread}
}

func belly(from, height float64) draw.FinSpec {
	return draw.FinSpec{Name: pelvic, Kind: draw.PelvicFin, From: from, Height: height}
}

func adipose(from, to, height float64) draw.FinSpec {
	return draw.FinSpec{Name: adiposeFin, Kind: draw.AdiposeFin, From: from, To: to, Height: height}
}

// with changes a fin.
func with(f draw.FinSpec, change func(*draw.FinSpec)) draw.FinSpec {
	change(&f)
	return f
}

func edged(f draw.FinSpec) draw.FinSpec { f.Edge = true; return f }

func spotted(f draw.FinSpec) draw.FinSpec { f.Ocellus = true; return f }

// figure returns the shape of a species without counts.
func figure(species string) (draw.Fish, bool) {
	for _, table := range []map[string]draw.Fish{rockfishes(), seaBasses(), breams(), jacks(), wrasses(), bottomFishes(), codsAndFlats(), freshwater()} {
		if f, ok := table[species]; ok {
			return f, true
		}
	}
	return draw.Fish{}, false
}

func rockfishes() map[string]draw.Fish {
	base := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.36, Back: 0.52, Peduncle: 0.105, Blunt: 0.72, Aft: 1.2, Width: 0.2},
			Face: draw.Face{Head: 0.36, Eye: 0.1, EyeX: 0.135, EyeY: 0.6, Jaw: 0.15, Gape: 0.5, Jut: 0.014, Spine: 2, Cheek: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.31, 0.83, 0.15, 0.95, 0.4, 0.78, 1, 0.95, 0.82, 0.66, 0.56, 0.82, 0.9, 0.78, 0.5),
				anal(analFin, 0.67, 0.78, 0.17, 0.4, 0.86, 0.8, 1, 0.88, 0.6),
				tail(draw.Emarginate, 0.2, 52), belly(0.37, 0.19), breast(0.26, 0.38, 12, 62),
			},
			Scales: draw.Scales{LateralLine: 46, Rows: 34, Arch: 0.62, Straight: 0.9, Ctenoid: true}, Palette: p, Marks: marks,
		}
	}
	return map[string]draw.Fish{
		"Sebastes polyspinis": base(0.36, draw.Palette{Back: 0x4a4a33, Flank: 0x87804f, Belly: 0xd8bd8f, Fin: 0xa5743d, Mark: 0xb0602a, Iris: 0xc7a24a},
			draw.Mark{Pattern: draw.Spots, N: 20, From: 0.02, To: 1, Top: -1, Low: 0.35, Size: 0.014, Strength: 0.8}),
		"Sebastes aleutianus": base(0.38, draw.Palette{Back: 0x9a3a2c, Flank: 0xd0665a, Belly: 0xeab9a8, Fin: 0xc8584a, Mark: 0x5a2018, Iris: 0xd9b34f},
			draw.Mark{Pattern: draw.Mottle, From: 0.15, To: 0.98, Top: -1, Low: 0.3, Size: 0.11, Strength: 0.6}),
		"Sebastes constellatus": base(0.36, draw.Palette{Back: 0xa8452a, Flank: 0xdd7a3e, Belly: 0xf2c69a, Fin: 0xd9713a, Mark: 0xfff1dc, Iris: 0xcf9f3c},
			draw.Mark{Pattern: draw.Spots, N: 34, From: 0.05, To: 1, Top: -1, Low: 0.7, Size: 0.006, Strength: 0.95},
			draw.Mark{Pattern: draw.Blotch, From: 0.5, To: 0.5, Top: -0.75, Low: -0.75, Size: 0.03, Strength: 0.9},
			draw.Mark{Pattern: draw.Blotch, From: 0.7, To: 0.7, Top: -0.75, Low: -0.75, Size: 0.026, Strength: 0.9}),
	}
}

func seaBasses() map[string]draw.Fish {
	long := []float64{0.42, 0.8, 0.9, 0.84, 0.8, 0.78, 0.94, 1, 0.95, 0.68}
	grouper := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.37, Back: 0.54, Peduncle: 0.125, Blunt: 0.66, Chin: 0.6, Aft: 1.25, Width: 0.2},
			Face: draw.Face{Head: 0.4, Eye: 0.068, EyeX: 0.135, EyeY: 0.6, Jaw: 0.17, Gape: 0.42, Jut: 0.016, Spine: 3, Cheek: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.37, 0.86, 0.135, 0.7, long...), anal(analFin, 0.66, 0.81, 0.14, 0.35, 0.7, 0.95, 1, 0.9, 0.65),
				tail(draw.Truncate, 0.21, 54), belly(0.4, 0.17), breast(0.23, 0.36, 12, 66),
			},
			Scales: draw.Scales{LateralLine: 64, Rows: 38, Arch: 0.6, Straight: 0.88, Ctenoid: true}, Palette: p, Marks: marks,
		}
	}
	goliath := grouper(0.38, draw.Palette{Back: 0x4b4128, Flank: 0x93824c, Belly: 0xcbbb88, Fin: 0x7c6e42, Mark: 0x2b2416, Iris: 0xa8853c},
		draw.Mark{Pattern: draw.Bars, N: 5, From: 0.3, To: 1, Top: -1, Low: 0.7, Size: 0.07, Strength: 0.45},
		draw.Mark{Pattern: draw.Spots, N: 30, From: 0.01, To: 1, Top: -1, Low: 0.4, Size: 0.007, Strength: 0.9})
	goliath.Fins[2] = tail(draw.Rounded, 0.2, 70)
	goliath.Face.Eye = 0.042
	bass := func(deep float64, c draw.Caudal, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.36, Back: 0.55, Peduncle: 0.12, Blunt: 0.72, Aft: 1.2, Width: 0.17},
			Face: draw.Face{Head: 0.38, Eye: 0.085, EyeX: 0.135, EyeY: 0.62, Jaw: 0.15, Gape: 0.38, Jut: 0.012, Spine: 3, Cheek: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.35, 0.85, 0.15, 1, 0.4, 0.75, 0.9, 0.84, 0.78, 0.72, 0.9, 1, 0.95, 0.7),
				anal(analFin, 0.66, 0.8, 0.16, 0.4, 0.75, 0.95, 1, 0.85, 0.6),
				tail(c, 0.22, 54), belly(0.35, 0.2), breast(0.25, 0.34, 8, 58),
			},
			Scales: draw.Scales{LateralLine: 48, Rows: 26, Arch: 0.6, Straight: 0.9, Ctenoid: true}, Palette: p, Marks: marks,
		}
	}
	hamletish := bass(0.36, draw.Truncate, draw.Palette{Back: 0x6a5030, Flank: 0xb3854e, Belly: 0xf0e3c8, Fin: 0xc9a36a, Mark: 0x35241a, Iris: 0xc08a3a},
		draw.Mark{Pattern: draw.Bars, N: 6, From: 0.38, To: 1, Top: -1, Low: 0.45, Size: 0.05, Strength: 0.7})
	return map[string]draw.Fish{
		"Epinephelus morio": grouper(0.36, draw.Palette{Back: 0x6b3a2a, Flank: 0xb0634a, Belly: 0xe0b69c, Fin: 0xb5654a, Mark: 0xf0d8c4, Iris: 0xc9963e},
			draw.Mark{Pattern: draw.Mottle, From: 0.1, To: 1, Top: -1, Low: 0.6, Size: 0.1, Strength: 0.4}),
		"Epinephelus itajara": goliath,
		"Centropristis striata": bass(0.38, draw.Truncate, draw.Palette{Back: 0x23262e, Flank: 0x58606e, Belly: 0xa8b0b4, Fin: 0x4a5462, Mark: 0x15171d, Iris: 0x9a7a3a},
			draw.Mark{Pattern: draw.Stripes, N: 9, From: 0.34, To: 1, Top: -0.85, Low: 0.6, Size: 0.42, Strength: 0.55}),
		"Centropristis philadelphica": bass(0.33, draw.Truncate, draw.Palette{Back: 0x5e5237, Flank: 0xa08f62, Belly: 0xe2d9bd, Fin: 0x9f8a55, Mark: 0x3a2e1c, Iris: 0xb2893a},
			draw.Mark{Pattern: draw.Bars, N: 7, From: 0.3, To: 1, Top: -1, Low: 0.15, Size: 0.045, Strength: 0.6}),
		"Serranus phoebe": bass(0.35, draw.Emarginate, draw.Palette{Back: 0x8a6a44, Flank: 0xd8c29a, Belly: 0xf6f0e2, Fin: 0xd6bf94, Mark: 0x4a3322, Iris: 0xc79a4a},
			draw.Mark{Pattern: draw.Bars, N: 1, From: 0.36, To: 0.5, Top: -1, Low: 0.9, Size: 0.045, Strength: 0.75},
			draw.Mark{Pattern: draw.Bars, N: 3, From: 0.55, To: 1, Top: -0.9, Low: 0.1, Size: 0.05, Strength: 0.4}),
		"Serranus subligarius": hamletish,
	}
}
