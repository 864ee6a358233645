package cli

import pb "platarium/proto/platarium/v1"

// wallPanel is an invented plan that has a bit of everything.
func wallPanel() *pb.Plan {
	fit := &pb.PictureScale{MmPerPixel: 0.0521, Uncertainty: 0.004, Basis: "scale bar, 20 mm", ToSizeMmPerPixel: 0.05, Factor: 1.424, EffectivePpi: 421}
	ink := &pb.PlanCandidate{
		Picture: &pb.Picture{Name: "pictures/sand-ink", Title: "Belted sandfish, final art"}, AcceptedName: "Serranus subligarius", Chosen: true,
		Reasons: []*pb.Reason{{Text: "same species"}, {Text: "dorsal fin complete, left lateral"}}, Completeness: pb.Completeness_COMPLETENESS_COMPLETE, Scale: fit,
		Rights: "exclusive until 2029-03-31; ask Quillfin Press before more than facts are taken",
		Proportions: []*pb.ProportionVerdict{
			{Length: "HL", Over: "SL", Found: 0.381, Uncertainty: 0.004, Min: 0.37, Max: 0.4, Verdict: "agrees", Against: "Fahay 2007"},
			{Length: "BD", Over: "SL", Found: 0.44, Uncertainty: 0.004, Min: 0.34, Max: 0.38, Verdict: "outside", Explanation: "BD is 44.0 % of SL, ± 0.8 %; Fahay 2007 gives 34-38 %: 16 % too large", Against: "Fahay 2007"},
		},
	}
	cousin := &pb.PlanCandidate{
		Picture: &pb.Picture{Name: "pictures/tattler", Title: "Tattler, outline"}, AcceptedName: "Serranus phoebe", Mirror: true,
		Reasons: []*pb.Reason{{Text: "same genus"}}, Completeness: pb.Completeness_COMPLETENESS_DAMAGED,
		Scale:       &pb.PictureScale{Problem: "no calibration; mark the ends of a scale bar", Warnings: []string{"line art below 600 ppi"}},
		Differences: []string{"P 15, not 16"}, Damage: "second spine broken", Warnings: []string{"drawn from memory"},
	}
	return &pb.Plan{
		Brief: "briefs/wall-panel", Title: "Serranus wall panel", AcceptedName: "Serranus subligarius",
		Size: &pb.PlanSize{StandardLengthMm: 74, Basis: "measured on specimens/stc-0415", PrintedStandardLengthMm: 420, Magnification: 5.676},
		Body: ink,
		Structures: []*pb.PlanStructure{
			{Structure: "dorsal fin", View: pb.View_VIEW_LEFT_LATERAL, Note: "incised membranes", Candidates: []*pb.PlanCandidate{ink, cousin}, Checked: []string{"D X,12 by Maren Oltedal on 2026-11-02"}},
			{Structure: "opercle", View: pb.View_VIEW_LEFT_LATERAL, Candidates: []*pb.PlanCandidate{cousin}, Gap: "nothing complete; nearest: Tattler, outline, of the same genus"},
		},
		Chosen: []*pb.ChosenPicture{{Picture: "pictures/sand-ink", Title: "Belted sandfish, final art", AcceptedName: "Serranus subligarius", Structures: []string{"dorsal fin", "scales"}}},
		Expected: []*pb.ExpectedCount{
			{Structure: "dorsal fin", Text: "D X,11-14", Source: "Fahay 2007"}, {Structure: "dorsal fin", Text: "D X,11-14", Source: "Fahay 2007"},
			{Text: "LL 43", Source: "Serranus phoebe", FromRelative: true},
		},
		RayMaps: []*pb.RayMap{{Structure: "anal fin", Picture: "pictures/sand-ink", AcceptedName: "Serranus subligarius", Remarks: []string{"evened out from III,6"},
			Bases: []*pb.RayBase{{Number: 1, Spine: true, OfStandardLength: 0.66}, {Number: 1, OfStandardLength: 0.7}, {Number: 2, OfStandardLength: 0.7214}}}},
		Remarks: []string{"TL taken as 1.22 SL"},
	}
}

// flatPhoto is what a check says of a specimen photographed while it lay pressed flat.
func flatPhoto() *pb.PictureCheck {
	return &pb.PictureCheck{
		Counts: []*pb.CountVerdict{
			{Character: "D", Element: "spine", Verdict: "agrees", Explanation: "D X is as published", Citation: "Fahay 2007"},
			{Character: "P", Element: "ray", Verdict: "not in the diagnosis", Explanation: "P is not in the diagnosis", Citation: "Fahay 2007"},
		},
		Proportions: []*pb.ProportionVerdict{
			{Length: "BD", Over: "SL", Found: 0.44, Uncertainty: 0.004, Min: 0.34, Max: 0.38, Verdict: "outside", Explanation: "BD is 44.0 % of SL, ± 0.8 %; pictures/sand-ink gives 34-38 %: 16 % too large", Against: "pictures/sand-ink"},
			{Length: "ED", Over: "HL", Verdict: "not comparable", Explanation: "no eye landmarks"},
		},
		Scale: &pb.PictureScale{MmPerPixel: 0.1, Basis: "ruler, 60 mm", Problem: "two bars disagree by 4 %"},
		Lengths: []*pb.MeasuredLength{
			{Measurement: "SL", Pixels: 740, Mm: 74, UncertaintyMm: 0.4}, {Measurement: "HL", Pixels: 259.04},
		},
		Remarks: []string{"head short and body deep: the specimen may have been pressed flat"},
	}
}
