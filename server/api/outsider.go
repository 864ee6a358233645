package api

import (
	"slices"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

// maySee says whether a caller may know that a picture is there. Publishers see plates: studies and references are the studio's workshop, and
// references are often other people's.
func maySee(p principal, pic *pb.Picture) bool {
	return !p.outsider() || pic.GetKind() == pb.Kind_KIND_PLATE
}

// shownPicture is a picture as the caller may see it.
func shownPicture(p principal, pic *pb.Picture) *pb.Picture {
	if !p.outsider() {
		return pic
	}
	// Built from what may be shown, so that a new field stays inside until somebody decides otherwise.
	out := &pb.Picture{
		Name: pic.GetName(), Revision: pic.GetRevision(), Etag: pic.GetEtag(), CreateTime: pic.GetCreateTime(), UpdateTime: pic.GetUpdateTime(),
		Kind: pic.GetKind(), Title: pic.GetTitle(), View: pic.GetView(), Stage: pic.GetStage(), Technique: pic.GetTechnique(),
		Counts: pic.GetCounts(), Creators: pic.GetCreators(), Created: pic.GetCreated(), CreditParts: pic.GetCreditParts(), RightsStatement: pic.GetRightsStatement(),
		Structures: shownStructures(pic.GetStructures()),
	}
	if id := pic.GetIdentification(); id != nil {
		out.Identification = &pb.Identification{Taxon: id.GetTaxon(), ScientificName: id.GetScientificName(), Qualifier: id.GetQualifier()}
	}
	if o := pic.GetOriginal(); o != nil {
		out.Original = &pb.Original{MediaType: o.GetMediaType(), Width: o.GetWidth(), Height: o.GetHeight(), PpiX: o.GetPpiX(), PpiY: o.GetPpiY(), BitDepth: o.GetBitDepth(), ColorModel: o.GetColorModel()}
	}
	return out
}

func shownStructures(list []*pb.Structure) []*pb.Structure {
	out := make([]*pb.Structure, len(list))
	for i, s := range list {
		out[i] = &pb.Structure{Structure: s.GetStructure(), Completeness: s.GetCompleteness(), Region: s.GetRegion()}
	}
	return out
}

// shownTaxon is a taxon as the caller may see it.
func shownTaxon(p principal, t *pb.Taxon) *pb.Taxon {
	if !p.outsider() || t.GetNotes() == "" {
		return t
	}
	t = proto.Clone(t).(*pb.Taxon)
	t.Notes = ""
	return t
}

// isParty says whether an outsider is a party to a grant, and knows of it: a draft is still the studio's own paper.
func isParty(p principal, g *pb.Grant) bool {
	draft := g.GetStatus() == pb.GrantStatus_GRANT_STATUS_UNSPECIFIED || g.GetStatus() == pb.GrantStatus_GRANT_STATUS_DRAFT
	return p.party != "" && !draft && (g.GetLicensee() == p.party || slices.Contains(g.GetAffiliates(), p.party))
}

// shownGrant is a grant as a party to it may see it: all of it but the studio's notes, grants that it is no party to, and the fee unless it is the licensee's own.
func (s *Server) shownGrant(p principal, g *pb.Grant) *pb.Grant { return s.teller(p).shownGrant(g) }

func (t teller) shownGrant(g *pb.Grant) *pb.Grant {
	if !t.p.outsider() {
		return g
	}
	g = proto.Clone(g).(*pb.Grant)
	g.Notes, g.DocumentSha256, g.EndedReason, g.CollidesWith = "", "", "", nil
	g.Amends, g.Supersedes, g.Head = t.ownGrant(g.GetAmends()), t.ownGrant(g.GetSupersedes()), t.ownGrant(g.GetHead())
	g.SubjectTo = slices.DeleteFunc(g.GetSubjectTo(), func(name string) bool { return t.ownGrant(name) == "" })
	if g.GetLicensee() != t.p.party {
		g.Fee, g.PaidOn, g.PaymentIsCondition = nil, "", false
	}
	return g
}

// shownUse is a use as its user may see it.
func (s *Server) shownUse(p principal, u *pb.Use) *pb.Use {
	if !p.outsider() {
		return u
	}
	u = proto.Clone(u).(*pb.Use)
	u.Notes, u.EvidenceSha256, u.Grant = "", "", s.teller(p).ownGrant(u.GetGrant())
	return u
}

// visiblePicture reads a picture that the caller may see; ErrNotFound otherwise, the same for both.
func (s *Server) visiblePicture(p principal, name string) (*pb.Picture, error) {
	if err := wantName("name", name, archive.Pictures); err != nil {
		return nil, err
	}
	pic, err := s.archive.GetPicture(name)
	if err == nil && !maySee(p, pic) {
		return nil, notFound(name)
	}
	return pic, err
}
