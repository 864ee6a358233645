package demo

import "platarium/client/demo/draw"

func breams() map[string]draw.Fish {
	bream := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.36, Back: 0.58, Peduncle: 0.095, Blunt: 0.6, Chin: 0.72, Aft: 1.15, Nape: 0.015},
			Face: draw.Face{Head: 0.3, Eye: 0.085, EyeX: 0.145, EyeY: 0.52, Jaw: 0.085, Gape: 0.3, Cheek: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.32, 0.84, 0.14, 0.55, 0.5, 0.88, 1, 0.9, 0.78, 0.68, 0.62, 0.62, 0.58, 0.45),
				anal(analFin, 0.62, 0.83, 0.13, 0.4, 0.8, 0.9, 0.8, 0.7, 0.5),
				tail(draw.Forked, 0.28, 62), belly(0.36, 0.2),
				with(breast(0.33, 0.3, 14, 40), func(f *draw.FinSpec) { f.Profile = []float64{0.7, 1, 0.9, 0.7, 0.52, 0.38, 0.28} }),
			},
			Scales: draw.Scales{LateralLine: 62, Rows: 24, Arch: 0.62, Straight: 0.95}, Palette: p, Marks: marks,
		}
	}
	gilthead := bream(0.41, draw.Palette{Back: 0x4d5a66, Flank: 0xa9b6bb, Belly: 0xeef0ea, Fin: 0x97a3a8, Mark: 0x2a3038, Iris: 0xc2a54e},
		draw.Mark{Pattern: draw.Blotch, From: 0.335, To: 0.335, Top: -0.45, Low: -0.45, Size: 0.035, Strength: 0.85},
		draw.Mark{Pattern: draw.Stripes, N: 12, From: 0.32, To: 1, Top: -0.85, Low: 0.6, Size: 0.22, Strength: 0.22})
	gilthead.Body.Blunt = 0.52
	pink := draw.Palette{Back: 0xb0574f, Flank: 0xe0a096, Belly: 0xf8ece4, Fin: 0xdf978b, Mark: 0x5f7fae, Iris: 0xd4b06a}
	return map[string]draw.Fish{
		"Diplodus sargus": bream(0.48, draw.Palette{Back: 0x5a6064, Flank: 0xb5b8b2, Belly: 0xeeece2, Fin: 0x8e9290, Mark: 0x1f2224, Iris: 0xc8b26a},
			draw.Mark{Pattern: draw.Bars, N: 8, From: 0.3, To: 0.88, Top: -1, Low: 0.5, Size: 0.022, Strength: 0.5},
			draw.Mark{Pattern: draw.Bars, N: 1, From: 0.88, To: 0.99, Top: -1, Low: 0.8, Size: 0.07, Strength: 0.9}),
		"Sparus aurata": gilthead,
		"Spondyliosoma cantharus": bream(0.44, draw.Palette{Back: 0x3d4450, Flank: 0x8791a0, Belly: 0xc9ced4, Fin: 0x66707e, Mark: 0x2e3742, Iris: 0xb9a35c},
			draw.Mark{Pattern: draw.Stripes, N: 14, From: 0.3, To: 1, Top: -0.9, Low: 0.75, Size: 0.3, Strength: 0.4}),
		"Pagellus erythrinus": bream(0.37, pink, draw.Mark{Pattern: draw.Spots, N: 32, From: 0.3, To: 1, Top: -1, Low: 0, Size: 0.005, Strength: 0.6}),
		"Pagellus bellottii": bream(0.39, pink, draw.Mark{Pattern: draw.Blotch, From: 0.325, To: 0.325, Top: -0.5, Low: -0.5, Size: 0.028, Strength: 0.7},
			draw.Mark{Pattern: draw.Stripes, N: 8, From: 0.35, To: 0.95, Top: -0.9, Low: 0.2, Size: 0.2, Strength: 0.35}),
	}
}

func jacks() map[string]draw.Fish {
	moonfish := func(deep, lobe float64, p draw.Palette) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.27, Back: 0.66, Peduncle: 0.055, Blunt: 0.42, Chin: 0.6, BellyAt: 0.34, Aft: 0.8, Width: 0.1},
			Face: draw.Face{Head: 0.31, Eye: 0.075, EyeX: 0.14, EyeY: 0.46, Jaw: 0.09, Gape: 0.62, Jut: 0.012},
			Fins: []draw.FinSpec{
				dorsal(dorsal1, 0.3, 0.425, 0.055, 0.6, 0.7, 1, 0.9, 0.7, 0.5),
				dorsal(dorsal2, 0.47, 0.93, lobe, 0.2, 0.7, 0.95, 0.6, 0.36, 0.25, 0.19, 0.16, 0.15, 0.14, 0.13, 0.13),
				anal(analFin, 0.5, 0.93, lobe*0.86, 0.12, 0.16, 0.9, 0.5, 0.26, 0.2, 0.18, 0.17, 0.16, 0.15, 0.14),
				tail(draw.Forked, 0.3, 68), belly(0.36, 0.06),
				with(breast(0.32, 0.3, 16, 34), func(f *draw.FinSpec) { f.Profile = []float64{0.8, 1, 0.85, 0.66, 0.5, 0.38, 0.28} }),
			},
			Scales: draw.Scales{LateralLine: 70, Arch: 0.5, Straight: 0.62, Scutes: 12}, Palette: p,
		}
	}
	silver := draw.Palette{Back: 0x63788a, Flank: 0xb9c6cc, Belly: 0xeef1ee, Fin: 0x9fabab, Mark: 0x3a4750, Iris: 0xb9b08a}
	pompano := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.4, Back: 0.52, Peduncle: 0.075, Blunt: 0.52, Chin: 0.66, Aft: 1.1},
			Face: draw.Face{Head: 0.27, Eye: 0.062, EyeX: 0.095, EyeY: 0.34, Jaw: 0.08, Gape: 0.35, MouthY: 0.045},
			Fins: []draw.FinSpec{
				dorsal(dorsal1, 0.34, 0.47, 0.055, 1, 0.6, 0.9, 1, 0.9, 0.7),
				dorsal(dorsal2, 0.49, 0.92, 0.24, 0.2, 0.5, 1, 0.6, 0.38, 0.3, 0.27, 0.24, 0.22, 0.2),
				anal(analFin, 0.52, 0.92, 0.23, 0.16, 0.4, 1, 0.55, 0.36, 0.3, 0.27, 0.23, 0.2),
				tail(draw.Forked, 0.32, 66), belly(0.34, 0.1), breast(0.2, 0.26, 14, 44),
			},
			Scales: draw.Scales{LateralLine: 90, Arch: 0.25, Straight: 0.6}, Palette: p, Marks: marks,
		}
	}
	barracuda := func(p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: 0.15, DepthAt: 0.42, Back: 0.5, Peduncle: 0.07, Blunt: 0.84, Aft: 1.2, Width: 0.11},
			Face: draw.Face{Head: 0.32, Eye: 0.045, EyeX: 0.165, EyeY: 0.5, Jaw: 0.135, Gape: 0.16, Jut: 0.022},
			Fins: []draw.FinSpec{
				dorsal(dorsal1, 0.44, 0.53, 0.11, 0.8, 0.9, 1, 0.85, 0.66, 0.45), dorsal(dorsal2, 0.73, 0.82, 0.12, 0.2, 0.7, 1, 0.82, 0.62, 0.45, 0.4),
				anal(analFin, 0.735, 0.82, 0.115, 0.3, 0.75, 1, 0.8, 0.6, 0.45), tail(draw.Forked, 0.22, 64),
				belly(0.42, 0.08), breast(0.13, 0.3, 14, 44),
			},
			Scales: draw.Scales{LateralLine: 82, Rows: 20, Arch: 0.2, Straight: 0.7}, Palette: p, Marks: marks,
		}
	}
	steel := draw.Palette{Back: 0x3a4a52, Flank: 0x9fb0b4, Belly: 0xf0f2ee, Fin: 0x6f7d80, Mark: 0x1d262b, Iris: 0xb8a860}
	return map[string]draw.Fish{
		"Selene vomer":          moonfish(0.72, 0.4, silver),
		"Selene dorsalis":       moonfish(0.62, 0.2, silver),
		"Trachinotus carolinus": pompano(0.44, draw.Palette{Back: 0x57707c, Flank: 0xb7c4c2, Belly: 0xf1e7b9, Fin: 0xc9b75e, Mark: 0x3c4f58, Iris: 0xb09a52}),
		"Trachinotus falcatus": pompano(0.52, draw.Palette{Back: 0x4d6170, Flank: 0xb4c0c4, Belly: 0xf2ecd8, Fin: 0xb98a4a, Mark: 0x2b3338, Iris: 0x9c8a58},
			draw.Mark{Pattern: draw.Blotch, From: 0.42, To: 0.42, Top: 0.1, Low: 0.1, Size: 0.05, Strength: 0.45}),
		"Sphyraena barracuda": barracuda(steel, draw.Mark{Pattern: draw.Bars, N: 17, From: 0.34, To: 1, Top: -1, Low: -0.1, Size: 0.012, Strength: 0.5},
			draw.Mark{Pattern: draw.Spots, N: 26, From: 0.5, To: 1, Top: 0.15, Low: 0.85, Size: 0.009, Strength: 0.8}),
		"Sphyraena borealis": barracuda(steel, draw.Mark{Pattern: draw.Band, From: 0.3, To: 1, Size: 0.02, Strength: 0.35}),
		"Micropogonias undulatus": {
			Body: draw.Body{Depth: 0.33, DepthAt: 0.34, Back: 0.62, Peduncle: 0.09, Blunt: 0.62, Chin: 0.7, Aft: 1.05},
			Face: draw.Face{Head: 0.33, Eye: 0.075, EyeX: 0.13, EyeY: 0.56, Jaw: 0.1, Gape: 0.28, MouthY: 0.045, Barbels: 3, Cheek: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.33, 0.88, 0.17, 0.6, 0.4, 0.9, 1, 0.74, 0.3, 0.44, 0.5, 0.5, 0.5, 0.48, 0.46, 0.36),
				anal(analFin, 0.67, 0.76, 0.14, 0.3, 0.8, 1, 0.85, 0.6), tail(draw.Rounded, 0.22, 54), belly(0.36, 0.19), breast(0.24, 0.32, 12, 46),
			},
			Scales:  draw.Scales{LateralLine: 52, Rows: 24, Arch: 0.55, Straight: 0.8, Ctenoid: true},
			Palette: draw.Palette{Back: 0x6f6a55, Flank: 0xb9b296, Belly: 0xf1eede, Fin: 0xb5a878, Mark: 0x5a4c32, Iris: 0xb59a58},
			Marks:   []draw.Mark{{Pattern: draw.Bars, N: 22, From: 0.33, To: 0.97, Top: -1, Low: -0.2, Size: 0.009, Strength: 0.7}},
		},
	}
}

func wrasses() map[string]draw.Fish {
	wrasse := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.38, Back: 0.52, Peduncle: deep * 0.42, Blunt: 0.74, Aft: 1.5},
			Face: draw.Face{Head: 0.32, Eye: 0.056, EyeX: 0.155, EyeY: 0.58, Jaw: 0.07, Gape: 0.25},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.3, 0.86, 0.105, 0.5, 0.55, 0.7, 0.74, 0.74, 0.74, 0.76, 0.95, 1, 0.85),
				anal(analFin, 0.6, 0.84, 0.12, 0.4, 0.66, 0.8, 0.95, 1, 0.85), tail(draw.Rounded, 0.2, 56),
				belly(0.34, 0.15), breast(0.18, 0.34, 10, 74),
			},
			Scales: draw.Scales{LateralLine: 44, Rows: 22, Arch: 0.6, Straight: 0.84}, Palette: p, Marks: marks,
		}
	}
	rainbow := wrasse(0.22, draw.Palette{Back: 0x35603f, Flank: 0x4f86a8, Belly: 0xeae6d2, Fin: 0xc9834a, Mark: 0xdc7a2c, Iris: 0xc8502e},
		draw.Mark{Pattern: draw.Band, From: 0.22, To: 0.96, Size: 0.045, Strength: 0.95})
	rainbow.Scales = draw.Scales{LateralLine: 76, Rows: 30, Arch: 0.4, Straight: 0.8}
	rainbow.Fins[0] = spotted(dorsal(dorsalFin, 0.29, 0.88, 0.1, 0.4, 1, 0.95, 0.72, 0.7, 0.7, 0.72, 0.74, 0.74, 0.65))
	damsel := func(deep float64, shape draw.Caudal, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.4, Back: 0.52, Peduncle: 0.135, Blunt: 0.58, Aft: 1.35},
			Face: draw.Face{Head: 0.3, Eye: 0.095, EyeX: 0.13, EyeY: 0.45, Jaw: 0.07, Gape: 0.55, Cheek: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.32, 0.85, 0.17, 0.75, 0.4, 0.66, 0.72, 0.7, 0.66, 0.64, 0.8, 1, 0.9, 0.5),
				anal(analFin, 0.62, 0.84, 0.19, 0.24, 0.6, 0.85, 1, 0.92, 0.55), tail(shape, 0.3, 66),
				belly(0.38, 0.22), breast(0.27, 0.3, 4, 56),
			},
			Scales: draw.Scales{LateralLine: 19, Rows: 13, Arch: 0.72, Straight: 1.6, Ctenoid: true}, Palette: p, Marks: marks,
		}
	}
	return map[string]draw.Fish{
		"Labrus bergylta": wrasse(0.33, draw.Palette{Back: 0x3f5a36, Flank: 0x8a8a4a, Belly: 0xcfc091, Fin: 0x7d8a4f, Mark: 0xe6dcae, Iris: 0xb87838},
			draw.Mark{Pattern: draw.Spots, N: 26, From: 0.02, To: 1, Top: -1, Low: 0.95, Size: 0.008, Strength: 0.75}),
		"Labrus mixtus": wrasse(0.26, draw.Palette{Back: 0xb06a2a, Flank: 0xdf9a45, Belly: 0xf1cf93, Fin: 0xdf9a45, Mark: 0x2f5da8, Iris: 0xc65a2a},
			draw.Mark{Pattern: draw.Stripes, N: 5, From: 0.02, To: 0.98, Top: -0.8, Low: 0.5, Size: 0.42, Strength: 0.85}),
		"Coris julis": rainbow,
		"Chromis chromis": damsel(0.47, draw.Forked, draw.Palette{Back: 0x2d2620, Flank: 0x5e4e3c, Belly: 0x8c7a60, Fin: 0x43382c, Mark: 0x1a1512, Iris: 0x4a3c30},
			draw.Mark{Pattern: draw.Stripes, N: 7, From: 0.3, To: 0.95, Top: -0.7, Low: 0.7, Size: 0.2, Strength: 0.45}),
		"Abudefduf saxatilis": damsel(0.56, draw.Forked, draw.Palette{Back: 0xb9a640, Flank: 0xb8c4b0, Belly: 0xe8ece4, Fin: 0x8d9790, Mark: 0x1d2530, Iris: 0x4a4a40},
			draw.Mark{Pattern: draw.Bars, N: 5, From: 0.24, To: 1.0, Top: -1, Low: 0.8, Size: 0.062, Strength: 0.95}),
	}
}
