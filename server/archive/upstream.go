package archive

import (
	"fmt"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// tie is one derivation by which something was copied, in any number of steps, into a picture.
type tie struct {
	id     string // pictures/{id} source {n}, or the picture that was copied
	how    *pb.Derivation
	source *pb.Picture // nil for a source outside the archive
}

// upstream lists what a picture was copied from, and what that was copied from. Ties of facts end the way, since nobody owns facts.
func (a *Archive) upstream(p *pb.Picture) ([]tie, error) {
	var out []tie
	seen := map[string]bool{p.GetName(): true}
	for queue := []*pb.Picture{p}; len(queue) > 0; queue = queue[1:] {
		for i, d := range queue[0].GetDerivedFrom() {
			switch {
			case d.GetRole() == pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE:
			case d.GetSource() != "":
				out = append(out, tie{id: fmt.Sprintf("%s source %d", queue[0].GetName(), i+1), how: d})
			case d.GetPicture() != "" && !seen[d.GetPicture()]:
				seen[d.GetPicture()] = true
				q, err := a.GetPicture(d.GetPicture())
				if err != nil {
					if err := ignoreNotFound(err); err != nil {
						return nil, fmt.Errorf("read what %s was made from: %w", queue[0].GetName(), err)
					}
					continue
				}
				out = append(out, tie{id: q.GetName(), how: d, source: q})
				queue = append(queue, q)
			}
		}
	}
	return out, nil
}

// sources adds what a picture was copied from and the studio doesn't own.
func (a *Archive) sources(f *rights.Facts, p *pb.Picture) error {
	ties, err := a.upstream(p)
	if err != nil {
		return err
	}
	for _, t := range ties {
		s := rights.Source{ID: t.id, Kind: t.how.GetSource(), Works: []string{p.GetName()}, Free: t.how.GetPermission().GetFree()}
		if t.source != nil {
			s.Kind = t.source.GetTitle()
			if s.Missing = a.foreign(p, t.source); s.Missing == "" {
				continue
			}
		}
		if scope := t.how.GetPermission().GetScope(); scope != nil {
			allowed := rightsScope(dates{new(checks)}, "scope", scope)
			s.Scope = &allowed
		} else if t.source != nil && !s.Free {
			byStatement(&s, t.source.GetRightsStatement())
		}
		f.Sources = append(f.Sources, s)
	}
	return nil
}

// foreign says why a picture that another was copied from isn't the studio's by the record; empty if it is. Plates and studies are the studio's unless somebody else is named; a reference
// is if it has the rights holder or a maker of the picture made from it.
func (a *Archive) foreign(p, source *pb.Picture) string {
	holder := source.GetRightsHolder()
	switch {
	case holder != "" && (holder == p.GetRightsHolder() || slices.Contains(p.GetCreators(), holder)):
		return ""
	case source.GetKind() != pb.Kind_KIND_REFERENCE && !strings.HasPrefix(holder, Parties+"/"):
		return ""
	case holder != "":
		return "copied from it, whose rights " + a.holderName(holder) + " holds: a permission isn't on record"
	case source.GetRightsStatement() != "":
		return "copied from it, whose rights statement, " + source.GetRightsStatement() + ", isn't free: a permission isn't on record"
	case slices.ContainsFunc(source.GetCreators(), func(c string) bool { return slices.Contains(p.GetCreators(), c) }):
		return ""
	default:
		return "copied from it, and whose it is isn't on record: neither rights holder nor rights statement nor permission"
	}
}

func (a *Archive) holderName(holder string) string {
	if strings.HasPrefix(holder, Parties+"/") {
		return a.PartyName(holder)
	}
	return holder
}

// byStatement notes what the rights statement of a source allows to everybody. A copy of what is to be shared alike can't be licensed as one likes, nor may one be made where no
// derivatives are allowed.
func byStatement(s *rights.Source, statement string) {
	rest, licensed := strings.CutPrefix(rights.CanonicalURI(statement), rights.PublicLicences)
	if !licensed {
		return
	}
	elements, isLicence := strings.CutPrefix(rest, "licenses/")
	elements, _, _ = strings.Cut(elements, "/")
	words := strings.Split(elements, "-")
	switch {
	case !isLicence: // a dedication, or the public domain mark
		s.Free = true
	case slices.Contains(words, "nd"):
		s.Missing = "copied from it, and its licence, " + statement + ", allows no derivatives: a permission isn't on record"
	case slices.Contains(words, "sa"):
		s.Missing = "copied from it, and its licence, " + statement + ", wants the copy licensed alike: another permission isn't on record"
	case slices.Contains(words, "nc"):
		s.Scope = &rights.Scope{Media: []string{"*"}, Territory: []string{"WORLD"}, Languages: []string{"*"}, Purposes: []string{"noncommercial"}}
	default:
		s.Free = true
	}
}
