package demo

import "platarium/client/demo/draw"

func bottomFishes() map[string]draw.Fish {
	goby := func(deep float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: deep, DepthAt: 0.3, Back: 0.5, Peduncle: deep * 0.52, Blunt: 0.54, Chin: 0.6, Aft: 1.3, Width: deep},
			Face: draw.Face{Head: 0.28, Eye: 0.068, EyeX: 0.105, EyeY: 0.95, Jaw: 0.1, Gape: 0.5},
			Fins: []draw.FinSpec{
				with(dorsal(dorsal1, 0.34, 0.47, 0.13, 0.3, 0.8, 1, 1, 0.9, 0.75, 0.5), func(f *draw.FinSpec) { f.Lean = [2]float64{22, 46} }),
				dorsal(dorsal2, 0.53, 0.82, 0.12, 0.3, 0.7, 0.85, 0.9, 0.95, 1, 0.95), anal(analFin, 0.57, 0.82, 0.11, 0.5, 0.8, 0.9, 0.95, 1, 0.95),
				tail(draw.Rounded, 0.23, 54), belly(0.29, 0.19), breast(0.2, 0.1, -2, 50),
			},
			Scales: draw.Scales{Rows: 15, LateralLine: 0, Ctenoid: true}, Palette: p, Marks: marks,
		}
	}
	sculpin := func(p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: 0.22, DepthAt: 0.28, Back: 0.52, Peduncle: 0.075, Blunt: 0.62, Chin: 0.56, Aft: 0.95, Width: 0.3},
			Face: draw.Face{Head: 0.33, Eye: 0.07, EyeX: 0.12, EyeY: 0.95, Jaw: 0.12, Gape: 0.34, Spine: 1},
			Fins: []draw.FinSpec{
				dorsal(dorsal1, 0.31, 0.46, 0.075, 0.35, 0.7, 1, 1, 0.9, 0.7, 0.5), dorsal(dorsal2, 0.49, 0.86, 0.115, 0, 0.7, 0.95, 1, 0.95, 0.85, 0.6),
				anal(analFin, 0.54, 0.84, 0.1, 0.6, 0.9, 1, 0.95, 0.85, 0.6), tail(draw.Rounded, 0.2, 50),
				belly(0.29, 0.15), breast(0.22, 0.12, 0, 66),
			},
			Scales: draw.Scales{LateralLine: 33, Arch: 0.5, Straight: 0.9}, Palette: p, Marks: marks,
		}
	}
	bullhead := sculpin(draw.Palette{Back: 0x4b3a26, Flank: 0x9a7c4e, Belly: 0xe5d7b4, Fin: 0xb59a68, Mark: 0x2c2014, Iris: 0xb07a3a},
		draw.Mark{Pattern: draw.Mottle, From: 0.05, To: 1, Top: -1, Low: 0.6, Size: 0.07, Strength: 0.7})
	alpine := sculpin(draw.Palette{Back: 0x3c3d2a, Flank: 0x7d7a4e, Belly: 0xddd8b4, Fin: 0x9c925a, Mark: 0x201e12, Iris: 0xa8823c},
		draw.Mark{Pattern: draw.Bars, N: 4, From: 0.35, To: 1, Top: -1, Low: 0.4, Size: 0.06, Strength: 0.65},
		draw.Mark{Pattern: draw.Spots, N: 22, From: 0.05, To: 1, Top: -1, Low: 0.6, Size: 0.008, Strength: 0.6})
	seaScorpion := sculpin(draw.Palette{Back: 0x5a3a2c, Flank: 0xa86a4a, Belly: 0xe8cfae, Fin: 0xb8835a, Mark: 0x2e1a16, Iris: 0xc0923c},
		draw.Mark{Pattern: draw.Bars, N: 4, From: 0.3, To: 0.98, Top: -1, Low: 0.6, Size: 0.08, Strength: 0.7})
	seaScorpion.Face.Head, seaScorpion.Face.Spine, seaScorpion.Face.Cirrus = 0.37, 3, true
	seaScorpion.Body.Depth = 0.26
	seaScorpion.Fins[0] = dorsal(dorsal1, 0.3, 0.47, 0.12, 0.7, 0.8, 1, 0.98, 0.86, 0.7, 0.5)
	gurnard := func(wing float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: 0.23, DepthAt: 0.3, Back: 0.6, Peduncle: 0.06, Blunt: 0.86, Chin: 0.6, Aft: 1.0, Width: 0.2},
			Face: draw.Face{Head: 0.31, Eye: 0.062, EyeX: 0.185, EyeY: 0.82, Jaw: 0.1, Gape: 0.2, MouthY: 0.02, Spine: 1},
			Fins: []draw.FinSpec{
				with(dorsal(dorsal1, 0.32, 0.48, 0.17, 0.6, 0.85, 1, 0.94, 0.78, 0.56, 0.36, 0.24), func(f *draw.FinSpec) { f.Lean = [2]float64{16, 44} }),
				dorsal(dorsal2, 0.51, 0.88, 0.105, 0, 0.8, 1, 0.9, 0.8, 0.7, 0.5), anal(analFin, 0.53, 0.87, 0.09, 0.7, 0.95, 0.95, 0.9, 0.8, 0.6),
				tail(draw.Emarginate, 0.21, 50), with(belly(0.35, 0.16), func(f *draw.FinSpec) { f.Lean = [2]float64{80, 46} }),
				edged(with(breast(wing, 0.06, -6, 48), func(f *draw.FinSpec) { f.Free = 3 })),
			},
			Scales: draw.Scales{LateralLine: 70, Rows: 44, Arch: 0.5, Straight: 0.7}, Palette: p, Marks: marks,
		}
	}
	blenny := func(p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: 0.26, DepthAt: 0.24, Back: 0.5, Peduncle: 0.1, Blunt: 0.46, Chin: 0.55, Aft: 0.9, Width: 0.16},
			Face: draw.Face{Head: 0.25, Eye: 0.06, EyeX: 0.1, EyeY: 0.85, Jaw: 0.085, Gape: 0.28, Cirrus: true},
			Fins: []draw.FinSpec{
				dorsal(dorsalFin, 0.2, 0.94, 0.115, 0.3, 0.8, 0.92, 0.9, 0.82, 0.72, 0.86, 0.98, 1, 0.95, 0.7),
				anal(analFin, 0.47, 0.94, 0.09, 0.5, 0.8, 0.95, 1, 1, 0.95, 0.8), tail(draw.Rounded, 0.18, 48),
				with(belly(0.2, 0.15), func(f *draw.FinSpec) { f.Profile, f.Lean = []float64{0.5, 0.9, 1, 0.8}, [2]float64{84, 58} }), breast(0.21, 0.16, 2, 62),
			},
			Scales: draw.Scales{}, Palette: p, Marks: marks,
		}
	}
	molly := blenny(draw.Palette{Back: 0x5a4a26, Flank: 0x9a8a4a, Belly: 0xd8cb9a, Fin: 0xa3924f, Mark: 0x332a14, Iris: 0xb0642e},
		draw.Mark{Pattern: draw.Spots, N: 17, From: 0.02, To: 1, Top: -1, Low: 0.9, Size: 0.018, Strength: 0.6})
	molly.Face.Cirrus = false
	return map[string]draw.Fish{
		"Gobius niger": goby(0.21, draw.Palette{Back: 0x3c3026, Flank: 0x7a6448, Belly: 0xc2ab86, Fin: 0x6d5a44, Mark: 0x1f1812, Iris: 0xa8803a},
			draw.Mark{Pattern: draw.Mottle, From: 0.1, To: 1, Top: -1, Low: 0.7, Size: 0.06, Strength: 0.6}),
		"Gobius paganellus": goby(0.22, draw.Palette{Back: 0x4a3822, Flank: 0x8d6c40, Belly: 0xd3b888, Fin: 0x8b6a3e, Mark: 0x2a1d10, Iris: 0xb8862e},
			draw.Mark{Pattern: draw.Bars, N: 6, From: 0.3, To: 1, Top: -0.9, Low: 0.5, Size: 0.05, Strength: 0.5}),
		"Glossogobius muscorum": goby(0.17, draw.Palette{Back: 0x59513a, Flank: 0xa2976c, Belly: 0xe0d9bb, Fin: 0xa99c70, Mark: 0x39311f, Iris: 0xb0954e},
			draw.Mark{Pattern: draw.Spots, N: 9, From: 0.25, To: 1, Top: -0.1, Low: 0.35, Size: 0.02, Strength: 0.7}),
		"Cottus gobio": bullhead, "Cottus poecilopus": alpine, "Taurulus bubalis": seaScorpion,
		"Chelidonichthys lucerna": gurnard(0.34, draw.Palette{Back: 0x8c4a36, Flank: 0xc97a58, Belly: 0xf3dcc4, Fin: 0x4a7aa8, Mark: 0x1e3a5c, Iris: 0xc79a4e}),
		"Chelidonichthys cuculus": gurnard(0.27, draw.Palette{Back: 0xa83226, Flank: 0xd95f48, Belly: 0xf6d8c8, Fin: 0xe0785c, Mark: 0x7a2018, Iris: 0xcfa04a}),
		"Parablennius gattorugine": blenny(draw.Palette{Back: 0x5c3a22, Flank: 0xa3703e, Belly: 0xdcb888, Fin: 0xa87644, Mark: 0x382012, Iris: 0xb86a2c},
			draw.Mark{Pattern: draw.Bars, N: 7, From: 0.2, To: 1, Top: -1, Low: 0.9, Size: 0.05, Strength: 0.55}),
		"Parablennius sanguinolentus": molly,
	}
}

func codsAndFlats() map[string]draw.Fish {
	cod := func(barbels int, jut float64, p draw.Palette, marks ...draw.Mark) draw.Fish {
		return draw.Fish{
			Body: draw.Body{Depth: 0.25, DepthAt: 0.33, Back: 0.52, Peduncle: 0.055, Blunt: 0.66, Chin: 0.62, BellyAt: 0.36, Aft: 1.0, Width: 0.18},
			Face: draw.Face{Head: 0.28, Eye: 0.058, EyeX: 0.11, EyeY: 0.5, Jaw: 0.1, Gape: 0.3, MouthY: 0.012, Jut: jut, Barbels: barbels},
			Fins: []draw.FinSpec{
				dorsal(dorsal1, 0.32, 0.47, 0.13, 0, 0.7, 1, 0.95, 0.75, 0.5), dorsal(dorsal2, 0.5, 0.71, 0.1, 0, 0.85, 1, 0.9, 0.7, 0.5),
				dorsal(dorsal3, 0.735, 0.91, 0.085, 0, 0.85, 1, 0.9, 0.7, 0.5),
				anal(anal1, 0.48, 0.68, 0.095, 0.75, 1, 0.95, 0.7, 0.42), anal(anal2, 0.745, 0.91, 0.08, 0.85, 1, 0.9, 0.7, 0.5),
				tail(draw.Emarginate, 0.16, 58), with(belly(0.25, 0.13), func(f *draw.FinSpec) { f.Profile = []float64{0.8, 1, 0.8, 0.66, 0.55} }), breast(0.17, 0.24, 10, 52),
			},
			Scales: draw.Scales{LateralLine: 96, Rows: 44, Arch: 0.5, Straight: 0.62}, Palette: p, Marks: marks,
		}
	}
	flat := draw.Fish{
		Body: draw.Body{Depth: 0.52, DepthAt: 0.42, Back: 0.5, Peduncle: 0.1, Blunt: 0.62, Aft: 1.05, Width: 0.08},
		Face: draw.Face{Head: 0.26, Eye: 0.05, EyeX: 0.085, EyeY: 0.42, Jaw: 0.055, Gape: 0.6, SecondEye: true},
		Fins: []draw.FinSpec{
			with(dorsal(dorsalFin, 0.09, 0.9, 0.105, 0, 0.35, 0.62, 0.8, 0.95, 1, 0.92, 0.76, 0.55, 0.35), func(f *draw.FinSpec) { f.Lean = [2]float64{14, 34} }),
			with(anal(analFin, 0.28, 0.9, 0.105, 0.5, 0.75, 0.95, 1, 0.92, 0.76, 0.55, 0.35), func(f *draw.FinSpec) { f.Lean = [2]float64{14, 34} }),
			tail(draw.Rounded, 0.21, 46), with(belly(0.2, 0.07), func(f *draw.FinSpec) { f.Lean = [2]float64{104, 66} }), breast(0.13, 0.1, 4, 48),
		},
		Scales:  draw.Scales{LateralLine: 95, Rows: 50, Arch: 0.18, Straight: 0.5},
		Palette: draw.Palette{Back: 0x5a4c30, Flank: 0x7d6a42, Belly: 0x6f5e3a, Fin: 0x84704a, Mark: 0xd9702a, Iris: 0xb08a40},
		Marks:   []draw.Mark{{Pattern: draw.Spots, N: 9, From: 0.2, To: 0.97, Top: -0.95, Low: 0.95, Size: 0.017, Strength: 0.9}},
	}
	return map[string]draw.Fish{
		"Gadus morhua": cod(1, 0, draw.Palette{Back: 0x575338, Flank: 0x9a9060, Belly: 0xeeead8, Fin: 0x8b8258, Mark: 0x4a3c1f, Iris: 0xb89a52},
			draw.Mark{Pattern: draw.Spots, N: 26, From: 0.08, To: 1, Top: -1, Low: 0.25, Size: 0.011, Strength: 0.6}),
		"Melanogrammus aeglefinus": cod(1, 0, draw.Palette{Back: 0x4f4a55, Flank: 0xa7a3a8, Belly: 0xf2f0ea, Fin: 0x6e6a70, Mark: 0x17161a, Iris: 0xa9a08a},
			draw.Mark{Pattern: draw.Blotch, From: 0.36, To: 0.36, Top: -0.08, Low: -0.08, Size: 0.045, Strength: 0.85},
			draw.Mark{Pattern: draw.Band, From: 0.28, To: 1, Size: 0.01, Strength: 0.8}),
		"Pollachius virens": cod(0, 0.012, draw.Palette{Back: 0x2c352e, Flank: 0x6d7a70, Belly: 0xe3e6dc, Fin: 0x56625a, Mark: 0xe8ece2, Iris: 0xa2a08a},
			draw.Mark{Pattern: draw.Band, From: 0.28, To: 1, Size: 0.012, Strength: 0.9}),
		"Pleuronectes platessa": flat,
	}
}
