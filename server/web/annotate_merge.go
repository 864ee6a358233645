package web

import (
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// merge lays the changes that somebody made to base over the picture as others have left it meanwhile: what one side alone changed is taken from that side, and where both changed the same mark, the
// person at the page wins, since it is shown what the others did before it is saved.
func merge(base, mine, theirs *pb.Picture) *pb.Picture {
	out := &pb.Picture{Name: theirs.GetName(), Etag: theirs.GetEtag()}
	out.Landmarks = mergeList(base.GetLandmarks(), mine.GetLandmarks(), theirs.GetLandmarks(), (*pb.Landmark).GetLandmark)
	out.Structures = mergeList(base.GetStructures(), mine.GetStructures(), theirs.GetStructures(), (*pb.Structure).GetStructure)
	out.Calibration = theirs.GetCalibration()
	if !proto.Equal(base.GetCalibration(), mine.GetCalibration()) {
		out.Calibration = mine.GetCalibration()
	}
	out.Counts = theirs.GetCounts()
	if base.GetCounts().GetFormula() != mine.GetCounts().GetFormula() {
		out.Counts = mine.GetCounts()
	}
	return out
}

// mergeList keeps the order of mine; what others added comes at the end.
func mergeList[T proto.Message](base, mine, theirs []T, name func(T) string) []T {
	was, now := byName(base, name), byName(theirs, name)
	seen := map[string]bool{}
	var out []T
	for _, m := range mine {
		n := name(m)
		seen[n] = true
		old, had := was[n]
		other, has := now[n]
		switch {
		case had && proto.Equal(old, m) && has: // mine is untouched
			out = append(out, other)
		case had && proto.Equal(old, m): // others took it away
		default:
			out = append(out, m)
		}
	}
	for _, t := range theirs {
		n := name(t)
		old, had := was[n]
		if !seen[n] && (!had || !proto.Equal(old, t)) { // new, or changed by others after I took it away: nothing of theirs is lost unseen
			out = append(out, t)
		}
	}
	return out
}

func byName[T any](list []T, name func(T) string) map[string]T {
	out := map[string]T{}
	for _, x := range list {
		out[name(x)] = x
	}
	return out
}
