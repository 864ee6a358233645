package web

import pb "platarium/proto/platarium/v1"

// What the forms of briefs and licences offer to choose from.

// ViewOptions are the views.
func (f *form) ViewOptions() []option { return chosen[pb.View]() }

// Lengths are the lengths by which an animal is measured.
func (f *form) Lengths() []option {
	return []option{{Value: "TL", Label: "total length"}, {Value: "SL", Label: "standard length"}, {Value: "FL", Label: "fork length"}}
}

// Renderings are the ways to print.
func (f *form) Renderings() []option { return chosen[pb.Rendering]() }

// Purposes are the purposes of a use.
func (f *form) Purposes() []option {
	return []option{{Value: "commercial", Label: "commercial purposes"}, {Value: "noncommercial", Label: "noncommercial purposes"}}
}

// Exclusivities say who is shut out.
func (f *form) Exclusivities() []option { return chosen[pb.Exclusivity]() }
