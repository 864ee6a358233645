package archive

import (
	"strings"

	pb "platarium/proto/platarium/v1"
)

// refsOf lists the resource names that a record names, once each. They make the reverse index by which deletions are refused, grants over a
// picture are found, and the pictures touched by a changed taxon or specimen are indexed again.
func refsOf(r Record) []string {
	var names []string
	add := func(list ...string) {
		for _, n := range list {
			if n != "" {
				names = append(names, n)
			}
		}
	}
	switch r := r.(type) {
	case *pb.Picture:
		add(r.GetIdentification().GetTaxon(), r.GetSpecimen())
		for _, d := range r.GetDerivedFrom() {
			add(d.GetPicture(), d.GetHolder())
		}
		for _, o := range r.GetCoOwners() {
			add(o.GetParty())
		}
		for _, ap := range r.GetApprovals() {
			add(ap.GetLender())
		}
		for _, claim := range r.GetRivalClaims() {
			if strings.HasPrefix(claim.GetClaimant(), Parties+"/") {
				add(claim.GetClaimant())
			}
		}
		if strings.HasPrefix(r.GetRightsHolder(), Parties+"/") {
			add(r.GetRightsHolder())
		}
	case *pb.Specimen:
		add(r.GetIdentification().GetTaxon(), r.GetLender())
	case *pb.Taxon:
		add(r.GetParent(), r.GetAccepted())
	case *pb.Grant:
		add(r.GetLicensee(), r.GetAmends(), r.GetSupersedes(), r.GetHead())
		add(r.GetAffiliates()...)
		add(r.GetSubjectTo()...)
		add(r.GetCollidesWith()...)
		add(works(r.GetScope())...)
	case *pb.Use:
		add(r.GetUser(), r.GetGrant())
		add(works(r.GetScope())...)
	case *pb.Key:
		add(r.GetParty())
	case *pb.Brief:
		add(r.GetIdentification().GetTaxon(), r.GetSpecimen(), r.GetClient(), r.GetBody(), r.GetPlate())
		for _, c := range r.GetChoices() {
			add(c.GetPicture())
		}
		for _, s := range r.GetStudies() {
			add(s.GetPicture())
		}
	}
	return unique(names)
}

// works lists the pictures of a scope, without parts and without those taken out.
func works(s *pb.Scope) []string {
	var names []string
	for _, w := range s.GetWorks() {
		if strings.HasPrefix(w, "-") {
			continue
		}
		name, _, _ := strings.Cut(w, "#")
		names = append(names, name)
	}
	return names
}

func unique(names []string) []string {
	seen := make(map[string]bool, len(names))
	out := names[:0]
	for _, n := range names {
		if !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	return out
}

// originalsOf lists the digests of originals that a record names, hex.
func originalsOf(r Record) []string {
	var sums []string
	switch r := r.(type) {
	case *pb.Picture:
		sums = append(sums, r.GetOriginal().GetSha256())
	case *pb.Grant:
		sums = append(sums, r.GetDocumentSha256())
	case *pb.Use:
		sums = append(sums, r.GetEvidenceSha256())
	}
	out := sums[:0]
	for _, s := range sums {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}
