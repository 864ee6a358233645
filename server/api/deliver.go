package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"google.golang.org/grpc"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/storage"
	"platarium/storage/imaging"
)

// errNoDelivery: the grant doesn't allow the copy. The text says why; the caller names another grant, or waits until it is in force.
var errNoDelivery = errors.New("nothing can be delivered under this grant")

// Deliver makes the copy whole before it sends any of it, and records it before it leaves: what left unrecorded couldn't be told later.
func (s transferService) Deliver(req *pb.DeliverRequest, stream grpc.ServerStreamingServer[pb.DownloadResponse]) error {
	ctx := stream.Context()
	p := caller(ctx)
	pic, err := s.visiblePicture(p, req.GetPicture())
	if err != nil {
		return err
	}
	if err := wantName("grant", req.GetGrant(), archive.Grants); err != nil {
		return err
	}
	if err := wantedCopy(req); err != nil {
		return err
	}
	g, err := s.archive.GetGrant(req.GetGrant())
	if err != nil {
		return err
	}
	if p.outsider() && !isParty(p, g) {
		return notFound(req.GetGrant())
	}
	if err := s.deliverable(p, g, pic.GetName()); err != nil {
		return err
	}
	c, err := s.copyFor(ctx, pic, g, req)
	var fault *imaging.Fault
	if errors.As(err, &fault) && p.outsider() { // what is wrong with a file may cite it
		return fmt.Errorf("%w: the file can't carry its rights; ask the studio for another format", errNoDelivery)
	}
	if err != nil {
		return err
	}
	defer func() { _ = c.close() }()
	variant := req.GetVariant()
	if variant == "" {
		variant = "original"
	}
	_, err = s.archive.RecordDelivery(ctx, by(ctx, ""), g.GetName(), &pb.Delivery{
		Picture: pic.GetName(), Variant: variant, Sha256: c.header.GetSha256(), Format: req.GetFormat(), LongEdge: req.GetLongEdge(), WidthMm: req.GetWidthMm(), Ppi: req.GetPpi(),
	})
	if err != nil {
		return err
	}
	return send(stream, c.header, c.file)
}

// deliverable says why nothing may be delivered. The studio may send a picture before its term begins; a publisher fetches it only while its grant gives it the whole picture.
func (s *Server) deliverable(p principal, g *pb.Grant, picture string) error {
	no := func(format string, args ...any) error {
		return fmt.Errorf("%w: %s", errNoDelivery, fmt.Sprintf(format, args...))
	}
	today := s.archive.Today()
	switch state := stateOn(g, today); {
	case !touches(g.GetScope(), picture):
		return no("it doesn't cover %s", picture)
	case g.GetKind() == pb.GrantKind_GRANT_KIND_HOLDBACK || g.GetKind() == pb.GrantKind_GRANT_KIND_OPTION:
		return no("it allows no use")
	case state != "in force" && (p.outsider() || state != "not yet"):
		return no("it is %s", state)
	case g.GetPaymentIsCondition() && g.GetPaidOn() == "":
		return no("payment is a condition and hasn't come in")
	case !p.outsider():
		return nil
	case g.GetEmbargoUntil() > today.Format("2006-01-02"):
		return no("it may be used from %s", g.GetEmbargoUntil())
	case !slices.ContainsFunc(g.GetScope().GetWorks(), func(w string) bool { return w == picture || w == "*" }):
		return no("it covers a part of the picture; ask the studio for that part")
	}
	return nil
}

// delivered is a copy in a file of its own.
type delivered struct {
	header *pb.DownloadHeader
	file   *os.File
	close  func() error
}

// copyFor makes a copy in the temporary folder.
func (s transferService) copyFor(ctx context.Context, pic *pb.Picture, g *pb.Grant, req *pb.DeliverRequest) (_ *delivered, err error) {
	dir, err := os.MkdirTemp("", "platarium-deliver-*")
	if err != nil {
		return nil, fmt.Errorf("make a folder for the copy: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(dir))
		}
	}()
	from, header, err := s.wantedFile(ctx, dir, pic, req)
	if err != nil {
		return nil, err
	}
	defer func() { _ = from.Close() }()
	to, err := os.CreateTemp(dir, "copy-*")
	if err != nil {
		return nil, fmt.Errorf("make the copy: %w", err)
	}
	texts := s.embeddedIn(pic, g)
	h := sha256.New()
	if err := imaging.Embed(ctx, io.MultiWriter(to, h), from, header.GetSize(), texts); err != nil {
		return nil, errors.Join(noDelivery(err), to.Close())
	}
	size, err := to.Seek(0, io.SeekCurrent)
	if err == nil {
		_, err = to.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, errors.Join(err, to.Close())
	}
	out := &pb.DownloadHeader{MediaType: header.GetMediaType(), Size: size, Sha256: hex.EncodeToString(h.Sum(nil)), FileName: deliveryName(pic, g, header)}
	if out.Sidecar, err = sidecar(pic, g, out, texts); err != nil {
		return nil, errors.Join(err, to.Close())
	}
	return &delivered{header: out, file: to, close: func() error { return errors.Join(to.Close(), os.RemoveAll(dir)) }}, nil
}

// wantedFile makes the file that is wanted, without the rights in it: the original or a preview as it is, or the original in another size or format.
func (s transferService) wantedFile(ctx context.Context, dir string, pic *pb.Picture, req *pb.DeliverRequest) (*os.File, *pb.DownloadHeader, error) {
	if pic.GetOriginal() == nil {
		return nil, nil, fmt.Errorf("%w: %s has no file", errNoPreview, pic.GetName())
	}
	sum, err := storage.ParseDigest(pic.GetOriginal().GetSha256())
	if err != nil {
		return nil, nil, err
	}
	if asked(req) {
		cut, needed, err := cutOf(req, pic.GetOriginal())
		if err != nil {
			return nil, nil, err
		}
		if needed {
			f, size, err := s.cutFile(ctx, dir, sum, cut)
			return f, &pb.DownloadHeader{MediaType: cut.MediaType, Size: size}, err
		}
	}
	header, open, err := s.source(ctx, principal{role: pb.Role_ROLE_OWNER}, pic, sum, req.GetVariant())
	if err != nil {
		return nil, nil, err
	}
	f, err := tempCopy(dir, open, header.GetSize())
	return f, header, err
}

func tempCopy(dir string, open func(offset, length int64) (io.ReadCloser, error), size int64) (*os.File, error) {
	r, err := open(0, -1)
	if err != nil {
		return nil, err
	}
	defer func() { _ = r.Close() }()
	f, err := os.CreateTemp(dir, "from-*")
	if err != nil {
		return nil, fmt.Errorf("make the copy: %w", err)
	}
	n, err := io.Copy(f, r)
	if err == nil && n != size {
		err = fmt.Errorf("%w: %d bytes of %d", io.ErrUnexpectedEOF, n, size)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("copy the file: %w", err), f.Close())
	}
	return f, nil
}

// deliveryName says what it is and for which grant; the name that the file came under may tell a client's.
func deliveryName(pic *pb.Picture, g *pb.Grant, header *pb.DownloadHeader) string {
	return strings.TrimPrefix(pic.GetName(), archive.Pictures+"/") + "-" + strings.TrimPrefix(g.GetName(), archive.Grants+"/") + imaging.Extension(header.GetMediaType())
}

// embeddedIn is what a delivered copy says of itself.
func (s *Server) embeddedIn(pic *pb.Picture, g *pb.Grant) imaging.Embedded {
	holder := s.holder(pic)
	if holder == "" {
		holder = strings.Join(pic.GetCreators(), ", ")
	}
	e := imaging.Embedded{
		Title: pic.GetTitle(), Creators: pic.GetCreators(), Credit: g.GetCreditLine(), UsageTerms: s.usageTerms(g), Identifier: "urn:x-platarium:" + g.GetName(),
	}
	if e.Credit == "" {
		e.Credit = creditLine(pic)
	}
	if holder != "" {
		year := ""
		if c := pic.GetCreated(); len(c) >= 4 && strings.Trim(c[:4], "0123456789") == "" {
			year = c[:4] + " "
		}
		e.CopyrightNotice = "© " + year + holder
		e.Licensors = []imaging.Licensor{{Name: holder}}
		marked := true
		e.Marked = &marked
	}
	for _, uri := range []string{g.GetPublicLicence(), pic.GetRightsStatement()} {
		if e.WebStatement == "" && (strings.HasPrefix(uri, "https://") || strings.HasPrefix(uri, "http://")) {
			e.WebStatement = uri
		}
	}
	return e
}

// usageTerms tells the scope of a grant in one line.
func (s *Server) usageTerms(g *pb.Grant) string {
	sc := g.GetScope()
	term := "from " + sc.GetFrom()
	if sc.GetTo() != "" {
		term = sc.GetFrom() + " to " + sc.GetTo()
	}
	parts := []string{termsOf(g), strings.Join(sc.GetMedia(), ", "), strings.Join(sc.GetTerritories(), ", ")}
	if l := strings.Join(sc.GetLanguages(), ", "); l != "" && l != "*" {
		parts = append(parts, "languages "+l)
	}
	to := "everybody"
	if g.GetLicensee() != "" {
		to = s.archive.PartyName(g.GetLicensee())
	}
	return fmt.Sprintf("Licensed to %s (%s): %s. The signed agreement governs.", to, g.GetName(), strings.Join(append(parts, term), "; "))
}

// sidecar is what is embedded, for those whose programs drop it.
func sidecar(pic *pb.Picture, g *pb.Grant, h *pb.DownloadHeader, e imaging.Embedded) ([]byte, error) {
	var licensors []string
	for _, l := range e.Licensors {
		licensors = append(licensors, l.Name)
	}
	b, err := json.MarshalIndent(map[string]any{
		"picture": pic.GetName(), "grant": g.GetName(), "file_name": h.GetFileName(), "media_type": h.GetMediaType(), "sha256": h.GetSha256(), "title": e.Title, "creators": e.Creators,
		"credit": e.Credit, "copyright_notice": e.CopyrightNotice, "usage_terms": e.UsageTerms, "web_statement": e.WebStatement, "licensors": licensors, "identifier": e.Identifier,
	}, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("write the sidecar: %w", err)
	}
	return append(b, '\n'), nil
}
