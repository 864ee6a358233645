package web

import (
	"net/http"

	pb "platarium/proto/platarium/v1"
)

func (s *Site) specimen(v *visit) error {
	sp, err := s.services.archive.GetSpecimen(v.ctx(), &pb.GetSpecimenRequest{Name: v.named("specimens")})
	if err != nil {
		return err
	}
	return v.show(http.StatusOK, "specimen.html", sp.GetCatalogNumber(), sp)
}
