package scale

// Sources of the relations below.
const (
	brofeldt = "Brofeldt 1917, fitted here to the fishes measured"
	palance  = "Palance et al. 2019, coastal pelagic fishes of the California Current"
	passage  = "morphometric table of a fish passage program of the US Forest Service"
)

// PublishedRelations gives the length relations that the program knows, with
// their sources; testdata/published/length-relations.tsv holds the same rows and
// how they were read. Those of 1917 are least-squares lines through the fishes in
// fish-lengths.tsv. A studio adds its own to the slice.
func PublishedRelations() []Relation {
	return []Relation{
		{Species: "Abramis brama", From: SL, To: FL, Slope: 1.08606, Intercept: 1.947, N: 35, FromMin: 232, FromMax: 380, Residual: 0.0081, Source: brofeldt},
		{Species: "Abramis brama", From: SL, To: TL, Slope: 1.15277, Intercept: 34.188, N: 35, FromMin: 232, FromMax: 380, Residual: 0.0094, Source: brofeldt},
		{Species: "Rutilus rutilus", From: SL, To: FL, Slope: 1.05387, Intercept: 5.178, N: 20, FromMin: 129, FromMax: 295, Residual: 0.0094, Source: brofeldt},
		{Species: "Rutilus rutilus", From: SL, To: TL, Slope: 1.16055, Intercept: 10.104, N: 20, FromMin: 129, FromMax: 295, Residual: 0.0148, Source: brofeldt},
		{Species: "Blicca bjoerkna", From: SL, To: FL, Slope: 1.08290, Intercept: 0.658, N: 11, FromMin: 135, FromMax: 240, Residual: 0.0020, Source: brofeldt},
		{Species: "Blicca bjoerkna", From: SL, To: TL, Slope: 1.20510, Intercept: 2.226, N: 11, FromMin: 135, FromMax: 240, Residual: 0.0031, Source: brofeldt},
		{Species: "Osmerus eperlanus", From: SL, To: FL, Slope: 1.17409, Intercept: -12.955, N: 14, FromMin: 93, FromMax: 138, Residual: 0.0094, Source: brofeldt},
		{Species: "Osmerus eperlanus", From: SL, To: TL, Slope: 1.16986, Intercept: -1.336, N: 14, FromMin: 93, FromMax: 138, Residual: 0.0079, Source: brofeldt},
		{Species: "Esox lucius", From: SL, To: FL, Slope: 1.07571, Intercept: -2.099, N: 17, FromMin: 300, FromMax: 590, Residual: 0.0038, Source: brofeldt},
		{Species: "Esox lucius", From: SL, To: TL, Slope: 1.12444, Intercept: 9.555, N: 17, FromMin: 300, FromMax: 590, Residual: 0.0116, Source: brofeldt},
		{Species: "Perca fluviatilis", From: SL, To: FL, Slope: 1.05344, Intercept: 7.819, N: 56, FromMin: 75, FromMax: 411, Residual: 0.0078, Source: brofeldt},
		{Species: "Perca fluviatilis", From: SL, To: TL, Slope: 1.11242, Intercept: 9.425, N: 56, FromMin: 75, FromMax: 411, Residual: 0.0110, Source: brofeldt},
		{Species: "Clupea pallasii", From: SL, To: TL, Slope: 1.200, Intercept: -1.607, Symmetric: true, Source: palance},
		{Species: "Clupea pallasii", From: FL, To: TL, Slope: 1.110, Intercept: -0.323, Symmetric: true, Source: palance},
		{Species: "Engraulis mordax", From: SL, To: TL, Slope: 1.137, Intercept: 5.100, Symmetric: true, Source: palance},
		{Species: "Engraulis mordax", From: FL, To: TL, Slope: 1.081, Intercept: 1.870, Symmetric: true, Source: palance},
		{Species: "Engraulis mordax", From: FL, To: SL, Slope: 0.965, Intercept: -5.736, Symmetric: true, Source: palance},
		{Species: "Sardinops sagax", From: SL, To: TL, Slope: 1.157, Intercept: 0.724, Symmetric: true, Source: palance},
		{Species: "Sardinops sagax", From: FL, To: TL, Slope: 1.134, Intercept: -5.036, Symmetric: true, Source: palance},
		{Species: "Sardinops sagax", From: FL, To: SL, Slope: 0.980, Intercept: -5.243, Symmetric: true, Source: palance},
		{Species: "Scomber japonicus", From: FL, To: TL, Slope: 1.115, Intercept: -4.114, Symmetric: true, Source: palance},
		{Species: "Trachurus symmetricus", From: FL, To: TL, Slope: 1.110, Intercept: 0.896, Symmetric: true, Source: palance},
		{Species: "Coregonus nasus", From: SL, To: TL, Slope: 1.165, Symmetric: true, Source: passage},
		{Species: "Coregonus nasus", From: FL, To: TL, Slope: 1.099, Symmetric: true, Source: passage},
		{Species: "Gila cypha", From: SL, To: TL, Slope: 1.252, Symmetric: true, Source: passage},
		{Species: "Gila cypha", From: FL, To: TL, Slope: 1.134, Symmetric: true, Source: passage},
		{Species: "Coregonus pidschian", From: SL, To: TL, Slope: 1.142, Symmetric: true, Source: passage},
		{Species: "Coregonus pidschian", From: FL, To: TL, Slope: 1.078, Symmetric: true, Source: passage},
		{Species: "Stenodus leucichthys", From: SL, To: TL, Slope: 1.146, Symmetric: true, Source: passage},
		{Species: "Stenodus leucichthys", From: FL, To: TL, Slope: 1.080, Symmetric: true, Source: passage},
		{Species: "Acipenser fulvescens", From: SL, To: TL, Slope: 1.186, Symmetric: true, Source: passage},
		{Species: "Acipenser fulvescens", From: FL, To: TL, Slope: 1.096, Symmetric: true, Source: passage},
	}
}
