package commission

import (
	"fmt"
	"math"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
	"platarium/server/plan"
	"platarium/server/scale"
)

// rayMaps carries for each fin the bases of the best complete one that has them marked onto the body.
func (j *job) rayMaps() []*pb.RayMap {
	var out []*pb.RayMap
	var lacking []string
	for i := range j.wanted {
		w := &j.wanted[i]
		if !plan.Fin(w.structure) {
			continue
		}
		if m := j.rayMap(w); m != nil {
			out = append(out, m)
		} else {
			lacking = append(lacking, w.structure)
		}
	}
	if len(lacking) > 0 {
		j.remark("no complete %s among the candidates has the bases of its spines and rays marked: set landmarks such as “%s”", strings.Join(lacking, ", nor "), scale.BaseName(lacking[0], false, 1))
	}
	return out
}

func (j *job) rayMap(w *want) *pb.RayMap {
	for _, u := range w.uses {
		if u.as == "" || u.completeness != rank.Complete && u.completeness != rank.Reconstructed {
			continue
		}
		fin, err := scale.FinOf(j.scaleOf(u.sight).picture, u.as, j.tolerances)
		if err != nil {
			continue // not marked, or not to be read; the next one may be
		}
		if m := j.carry(w, u, fin); m != nil {
			return m
		}
	}
	return nil
}

// carry brings a fin's bases onto the body, in the number wanted.
func (j *job) carry(w *want, u *use, fin scale.Fin) *pb.RayMap {
	out := &pb.RayMap{Structure: w.structure, Picture: u.GetName(), AcceptedName: u.animal}
	fin.Name = w.structure
	spines, rays := fin.Count()
	wanted := scale.Wanted{Spines: wantedNumber(w, spines, meristic.Spine), Rays: wantedNumber(w, rays, meristic.Ray)}
	if j.body != nil {
		front, rear, err := scale.EndsOn(j.body.scaled.picture, w.structure, wanted.Spines, wanted.Rays, j.tolerances)
		if err != nil {
			out.Remarks = append(out.Remarks, "the ends of the fin base on the body are unknown: "+err.Error())
		}
		wanted.Front, wanted.Rear = front, rear
	}
	carried, remarks, err := scale.Carry(fin, wanted)
	if err != nil {
		out.Remarks = append(out.Remarks, err.Error()+"; the bases are those of the picture")
		carried, remarks = fin, nil
	}
	out.Remarks = append(out.Remarks, remarks...)
	if u.completeness == rank.Reconstructed {
		out.Remarks = append(out.Remarks, "the fin was reconstructed there")
	}
	if u.common.ID != j.taxon.GetName() {
		out.Remarks = append(out.Remarks, fmt.Sprintf("carried over from %s: check against the specimen", u.animal))
	}
	for _, b := range carried.Bases {
		out.Bases = append(out.Bases, &pb.RayBase{Number: int32(b.Number), Spine: b.Spine, OfBase: b.OfBase, OfStandardLength: b.Along, AboveMidline: b.Above})
	}
	return out
}

// wantedNumber is how many of an element are to be drawn: the source's number if the target allows it, else the nearest that it does. Rays that are counted
// in kinds are summed.
func wantedNumber(w *want, source int, e meristic.Element) int {
	chars := plan.Characters(w.structure)
	if len(chars) == 0 {
		return source
	}
	for _, st := range plan.Of(w.target, chars[:1]) { // a fin counted together with another tells nothing of one alone
		lo, hi, ok := 0.0, 0.0, false
		kinds := []meristic.Element{e}
		if _, plain := st.Count(meristic.Ray); e == meristic.Ray && !plain {
			kinds = []meristic.Element{meristic.Unbranched, meristic.Branched, meristic.TrailingUnbranched}
		}
		for _, k := range kinds {
			if c, stated := st.Count(k); stated {
				lo, hi, ok = lo+c.Min, hi+c.Max, true
			}
		}
		if ok {
			return int(min(max(float64(source), math.Floor(lo)), math.Floor(hi)))
		}
	}
	return source
}
