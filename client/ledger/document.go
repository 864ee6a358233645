package ledger

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// Undocumented is a row without its signed document.
type Undocumented struct {
	Line int    `json:"line"`
	File string `json:"file,omitempty"` // as the row names it; empty if it names none
	Why  string `json:"why"`
}

func (u Undocumented) String() string { return fmt.Sprintf("line %d: %s", u.Line, u.Why) }

// documents reads signed documents from the folder of the ledger, and from nowhere else.
type documents struct {
	root *os.Root
}

func openDocuments(ledger string) (*documents, error) {
	root, err := os.OpenRoot(filepath.Dir(ledger))
	if err != nil {
		return nil, fmt.Errorf("open the folder of the ledger: %w", err)
	}
	return &documents{root}, nil
}

// digest reads a document; the text says why there is none.
func (d *documents) digest(name string) (sum string, size int64, why string, _ error) {
	if name == "" {
		return "", 0, "names no signed document", nil
	}
	f, err := d.root.Open(filepath.FromSlash(name))
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return "", 0, fmt.Sprintf("its document %q isn't below the folder of the ledger", name), nil
		}
		return "", 0, fmt.Sprintf("its document %q can't be read: %s", name, err), nil
	}
	defer func() { _ = f.Close() }()
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		return "", 0, fmt.Sprintf("its document %q isn't a file", name), nil
	}
	h := sha256.New()
	if size, err = io.Copy(h, f); err != nil {
		return "", 0, "", fmt.Errorf("read %s: %w", name, err)
	}
	return hex.EncodeToString(h.Sum(nil)), size, "", nil
}

// document finds the signed document of a row and stores it, unless this is a dry run. It returns its sha256; none if it is missing, which is noted.
func (im *importer) document(ctx context.Context, r *row, line int) (string, error) {
	sum, size, why, err := im.docs.digest(r.document)
	if err != nil {
		return "", err
	}
	if why != "" {
		if im.documented {
			im.sum.Undocumented = append(im.sum.Undocumented, Undocumented{line, r.document, why})
		}
		return "", nil
	}
	if im.opts.DryRun {
		return "", nil // the archive doesn't have it, and a grant that names it would be refused
	}
	f, err := im.docs.root.Open(filepath.FromSlash(r.document))
	if err != nil {
		return "", fmt.Errorf("read %s: %w", r.document, err)
	}
	_, err = im.c.Upload(ctx, f, sum, size, filepath.Base(r.document), nil)
	if err := errors.Join(err, f.Close()); err != nil {
		return "", fmt.Errorf("store %s: %w", r.document, err)
	}
	return sum, nil
}

// addDocument puts a document with a grant that was brought in before without one.
func (im *importer) addDocument(ctx context.Context, g *pb.Grant, sum string) error {
	if im.opts.DryRun || sum == "" || g.GetDocumentSha256() != "" {
		return nil
	}
	_, err := im.c.Licensing.UpdateGrant(ctx, &pb.UpdateGrantRequest{
		Grant: &pb.Grant{Name: g.GetName(), Etag: g.GetEtag(), DocumentSha256: sum}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"document_sha256"}},
	})
	return err
}
