package demo

import "platarium/client/demo/draw"

func freshwater() map[string]draw.Fish {
	perch := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.38, Back: 0.58, Peduncle: 0.085, Blunt: 0.74, Aft: 1.1, Nape: 0.02},
			Face: draw.Face{Head: 0.31, Eye: 0.062, EyeX: 0.115, EyeY: 0.55, Jaw: 0.115, Gape: 0.36, Spine: 1, Cheek: true},
			Fins: []draw.FinSpec{
				spotted(dorsal(dorsal1, 0.32, 0.61, 0.15, 0.8, 0.6, 0.95, 1, 0.95, 0.8, 0.55, 0.25)),
				dorsal(dorsal2, 0.645, 0.83, 0.125, 0.3, 0.7, 1, 0.95, 0.82, 0.66, 0.45), anal(analFin, 0.68, 0.8, 0.13, 0.4, 0.85, 1, 0.85, 0.6),
				tail(draw.Emarginate, 0.2, 58), belly(0.36, 0.17), breast(0.19, 0.38, 12, 54),
			},
			Scales: draw.Scales{LateralLine: 62, Rows: 32, Arch: 0.52, Straight: 0.9, Ctenoid: true}, Palette: p, Marks: marks,
		}
	}
	ruffe := perch(0.27, draw.Palette{Back: 0x57553a, Flank: 0x9c9464, Belly: 0xe6dfc2, Fin: 0xa89a68, Mark: 0x39301e, Iris: 0x8a6aa0},
		draw.Mark{Pattern: draw.Spots, N: 28, From: 0.1, To: 1, Top: -1, Low: 0.2, Size: 0.008, Strength: 0.7})
	ruffe.Fins[0] = dorsal(dorsalFin, 0.32, 0.84, 0.15, 0.85, 0.6, 0.95, 1, 0.9, 0.7, 0.5, 0.6, 0.7, 0.62, 0.4)
	ruffe.Fins = append(ruffe.Fins[:1], ruffe.Fins[2:]...)
	ruffe.Face.Eye, ruffe.Scales.LateralLine, ruffe.Scales.Rows = 0.08, 38, 22
	trout := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.4, Back: 0.5, Peduncle: 0.085, Blunt: 0.66, Chin: 0.7, Aft: 1.2},
			Face: draw.Face{Head: 0.23, Eye: 0.04, EyeX: 0.075, EyeY: 0.5, Jaw: 0.095, Gape: 0.22},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.43, 0.55, 0.13, 0, 0.3, 0.85, 1, 0.86, 0.66, 0.45), adipose(0.825, 0.855, 0.042),
				anal(analFin, 0.7, 0.79, 0.12, 0.3, 0.85, 1, 0.8, 0.55), tail(draw.Emarginate, 0.18, 62),
				belly(0.52, 0.11), breast(0.15, 0.74, 24, 40),
			},
			Scales: draw.Scales{LateralLine: 118, Rows: 46, Arch: 0.16, Straight: 0.6}, Palette: p, Marks: marks,
		}
	}
	salmon := trout(0.22, draw.Palette{Back: 0x3b4a58, Flank: 0xa2aeb2, Belly: 0xf3f2ea, Fin: 0x5f6b70, Mark: 0x16191c, Iris: 0xb0a878},
		draw.Mark{Pattern: draw.Spots, N: 19, From: 0.06, To: 0.95, Top: -1, Low: -0.3, Size: 0.008, Strength: 0.9})
	salmon.Fins[3] = tail(draw.Forked, 0.19, 56)
	carp := func(deep float64, barbels int, p draw.Palette) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.4, Back: 0.56, Peduncle: 0.13, Blunt: 0.66, Chin: 0.72, Aft: 1.3},
			Face: draw.Face{Head: 0.28, Eye: 0.045, EyeX: 0.115, EyeY: 0.36, Jaw: 0.06, Gape: 0.5, MouthY: 0.012, Barbels: barbels},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.46, 0.84, 0.14, 0, 0.2, 0.9, 1, 0.85, 0.74, 0.66, 0.6, 0.58, 0.54, 0.45),
				anal(analFin, 0.74, 0.82, 0.13, 0.3, 0.8, 1, 0.85, 0.6), tail(draw.Forked, 0.24, 60),
				belly(0.46, 0.16), breast(0.18, 0.74, 26, 46),
			},
			Scales: draw.Scales{LateralLine: 37, Rows: 13, Arch: 0.06, Straight: 0.6}, Palette: p,
		}
	}
	crucian := carp(0.48, 0, draw.Palette{Back: 0x5e4a22, Flank: 0xb08a3e, Belly: 0xe8cf92, Fin: 0xa06a34, Mark: 0x33270f, Iris: 0xb88a30})
	crucian.Fins[0] = dorsal(dorsalFin, 0.44, 0.83, 0.15, 0, 0.25, 0.8, 1, 1, 0.98, 0.94, 0.88, 0.78, 0.6)
	crucian.Fins[2] = tail(draw.Emarginate, 0.23, 60)
	crucian.Marks = []draw.Mark{{Pattern: draw.Blotch, From: 0.95, To: 0.95, Top: 0, Low: 0, Size: 0.03, Strength: 0.7}}
	prussian := carp(0.42, 0, draw.Palette{Back: 0x48504a, Flank: 0x9da39a, Belly: 0xe3e4da, Fin: 0x7a807a, Mark: 0x2a2e2c, Iris: 0xa89e70})
	return map[string]draw.Fish{
		"Perca fluviatilis": perch(0.31, draw.Palette{Back: 0x3f4a26, Flank: 0x8f9a4c, Belly: 0xece4c4, Fin: 0xc2602e, Mark: 0x232a16, Iris: 0xc08a2e},
			draw.Mark{Pattern: draw.Bars, N: 6, From: 0.3, To: 0.98, Top: -1, Low: 0.5, Size: 0.05, Strength: 0.75}),
		"Perca flavescens": perch(0.28, draw.Palette{Back: 0x5a5a24, Flank: 0xc0a63c, Belly: 0xf2e9c6, Fin: 0xcf7a34, Mark: 0x2f3216, Iris: 0xb98e30},
			draw.Mark{Pattern: draw.Bars, N: 7, From: 0.28, To: 0.97, Top: -1, Low: 0.55, Size: 0.042, Strength: 0.7}),
		"Gymnocephalus cernua": ruffe,
		"Salmo salar":          salmon,
		"Salmo trutta": trout(0.25, draw.Palette{Back: 0x56492a, Flank: 0xb0914e, Belly: 0xf0e2b6, Fin: 0xa5854a, Mark: 0x2a1d14, Iris: 0xb99344},
			draw.Mark{Pattern: draw.Spots, N: 15, From: 0.06, To: 0.95, Top: -1, Low: 0.4, Size: 0.012, Strength: 0.9}),
		"Oncorhynchus kisutch": trout(0.24, draw.Palette{Back: 0x2f5560, Flank: 0xa9b8ba, Belly: 0xf2f1ea, Fin: 0x7b8a8c, Mark: 0x11181c, Iris: 0xa8a47e},
			draw.Mark{Pattern: draw.Spots, N: 24, From: 0.06, To: 1, Top: -1, Low: -0.55, Size: 0.006, Strength: 0.9}),
		"Cyprinus carpio":     carp(0.35, 2, draw.Palette{Back: 0x54482a, Flank: 0xa88f4e, Belly: 0xe6d6a2, Fin: 0x8f7040, Mark: 0x2e2512, Iris: 0xb48e3a}),
		"Carassius carassius": crucian,
		"Carassius gibelio":   prussian,
		"Garra findolabium": {
			Body: draw.Body{Depth: 0.22, DepthAt: 0.4, Back: 0.56, Peduncle: 0.12, Blunt: 0.6, Chin: 0.8, Aft: 1.3},
			Face: draw.Face{Head: 0.24, Eye: 0.045, EyeX: 0.125, EyeY: 0.62, Jaw: 0.05, Gape: 0.35, MouthY: 0.05, Barbels: 2},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.45, 0.6, 0.2, 0, 0.5, 1, 0.9, 0.72, 0.55, 0.42), anal(analFin, 0.74, 0.81, 0.16, 0.5, 1, 0.85, 0.66, 0.5),
				tail(draw.Forked, 0.25, 60), belly(0.5, 0.17), breast(0.19, 0.8, 30, 50),
			},
			Scales:  draw.Scales{LateralLine: 37, Rows: 9, Arch: 0.08, Straight: 0.5},
			Palette: draw.Palette{Back: 0x43443a, Flank: 0x8d8c70, Belly: 0xded9c0, Fin: 0x9a957a, Mark: 0x23231c, Iris: 0xa59458},
			Marks:   []draw.Mark{{Pattern: draw.Band, From: 0.25, To: 1, Size: 0.035, Strength: 0.35}},
		},
	}
}
