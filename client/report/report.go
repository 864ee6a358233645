// Package report sets a statement as a PDF to be printed or mailed: the history of a picture or of an organisation, or one licence, in full words; and the commit that it rests on.
//
// Invariants: everything said comes from the statement, which is verified first; the same statement and thumbnail give the same bytes, whose dates are the commit's;
// fonts are embedded (Go's, BSD-3-Clause), so that it looks the same everywhere; each page tells the commit, and its number among how many.
//
// Left out: scripts that the fonts lack (they have Latin, Greek and Cyrillic): such letters come out as boxes.
package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"

	"platarium/server/rights/statement"
)

// ErrThumbnail: the thumbnail isn't the one that the statement names. The caller fetches it again.
var ErrThumbnail = errors.New("thumbnail isn't the one that the statement names")

// Measures of an A4 page, mm.
const (
	pageWidth  = 210.0
	pageHeight = 297.0
	margin     = 22.0
	bottom     = 30.0 // for the foot
	dates      = 32.0 // width of the column of days
	body       = pageWidth - 2*margin - dates
	picture    = 46.0 // largest side of the thumbnail
)

// PDF sets a statement. Thumbnail is a JPEG or PNG with the sha256 that the statement names; nil leaves it out.
func PDF(b, thumbnail []byte) ([]byte, error) {
	mark, content, err := statement.Check(b)
	if err != nil {
		return nil, err
	}
	if sum := sha256.Sum256(thumbnail); thumbnail != nil && content["thumbnail_sha256"] != hex.EncodeToString(sum[:]) {
		return nil, ErrThumbnail
	}
	at, err := time.Parse(time.RFC3339Nano, text(content, "commit_time"))
	if err != nil {
		return nil, fmt.Errorf("time of the commit: %w", err)
	}
	s := sheet{content: content, mark: mark, at: at.UTC(), thumbnail: thumbnail}
	if _, err := s.set(); err != nil { // once to count the pages
		return nil, err
	}
	s.pages = s.pdf.PageCount()
	return s.set()
}

// sheet is one run of typesetting.
type sheet struct {
	pdf       *fpdf.Fpdf
	content   map[string]any
	mark      statement.Mark
	at        time.Time
	thumbnail []byte
	pages     int     // 0 while they are being counted
	ruled     float64 // where a heading's rule ended, mm: an entry right below it needs none of its own
}

func (s *sheet) set() ([]byte, error) {
	p := fpdf.New("P", "mm", "A4", "")
	s.pdf = p
	p.SetCatalogSort(true)
	p.SetCreationDate(s.at)
	p.SetModificationDate(s.at)
	title, set := "Licensing history of "+text(s.content, "title"), s.history
	switch {
	case s.mark.Grant != "":
		title, set = titleOf(s.content)+": "+s.mark.Grant, s.grant
	case s.mark.Party != "":
		title, set = "Licensing history of "+text(s.content, "party_name"), s.party
	}
	p.SetTitle(title, true)
	p.SetSubject(s.mark.Subject(), true)
	p.SetMargins(margin, margin, margin)
	p.SetAutoPageBreak(true, bottom)
	p.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	p.AddUTF8FontFromBytes("go", "I", goitalic.TTF)
	p.SetFooterFunc(s.foot)
	p.AddPage()
	set()
	var out bytes.Buffer
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("set the report: %w", err)
	}
	return out.Bytes(), nil
}

// history sets a statement of a picture.
func (s *sheet) history() {
	s.head()
	entries := objects(s.content, "entries")
	if len(entries) == 0 {
		s.font("", 10, 0)
		s.pdf.MultiCell(0, 5, "No grants or uses on record.", "", "L", false)
	}
	for _, e := range entries {
		s.entry(e)
	}
}

// font sets style, size in points and gray, 0 for black.
func (s *sheet) font(style string, size float64, gray int) {
	s.pdf.SetFont("go", style, size)
	s.pdf.SetTextColor(gray, gray, gray)
}

// head sets the picture's title, names and facts, with the thumbnail beside them.
func (s *sheet) head() {
	p := s.pdf
	width := pageWidth - 2*margin
	under := margin
	if s.thumbnail != nil {
		kind := strings.TrimPrefix(http.DetectContentType(s.thumbnail), "image/")
		info := p.RegisterImageOptionsReader("thumbnail", fpdf.ImageOptions{ImageType: kind}, bytes.NewReader(s.thumbnail))
		if info != nil && p.Ok() {
			scale := picture / max(info.Width(), info.Height())
			w, h := info.Width()*scale, info.Height()*scale
			p.ImageOptions("thumbnail", pageWidth-margin-w, margin, w, h, false, fpdf.ImageOptions{ImageType: kind}, 0, "")
			p.SetDrawColor(200, 200, 200)
			p.SetLineWidth(0.1)
			p.Rect(pageWidth-margin-w, margin, w, h, "D")
			width -= picture + 8
			under += h
		}
	}
	s.font("", 9, 110)
	p.MultiCell(width, 5, "Licensing history", "", "L", false)
	p.Ln(1)
	s.font("B", 17, 0)
	p.MultiCell(width, 7.5, text(s.content, "title"), "", "L", false)
	if name := text(s.content, "scientific_name"); name != "" {
		s.font("I", 11, 0)
		p.MultiCell(width, 6, name, "", "L", false)
	}
	p.Ln(3)
	for _, f := range [][2]string{
		{"Credit", text(s.content, "credit_line")}, {"Rights holder", text(s.content, "rights_holder")}, {"Record", s.mark.Picture},
		{"As of", s.at.Format("2 January 2006")}, {"Written for", audience(text(s.content, "audience"))},
	} {
		if f[1] == "" {
			continue
		}
		s.font("", 9, 110)
		p.CellFormat(dates, 4.8, f[0], "", 0, "L", false, 0, "")
		s.font("", 9, 0)
		p.MultiCell(width-dates, 4.8, f[1], "", "L", false)
	}
	p.SetY(max(p.GetY(), under) + 7)
}

// studio is the audience of a statement that tells all.
const studio = "studio"

func audience(who string) string {
	if who == studio {
		return "the studio; not for others"
	}
	return who
}

// foot stands on every page: caution, commit, number.
func (s *sheet) foot() {
	p := s.pdf
	p.SetY(-bottom + 6)
	p.SetDrawColor(160, 160, 160)
	p.SetLineWidth(0.15)
	p.Line(margin, p.GetY(), pageWidth-margin, p.GetY())
	p.Ln(2)
	s.font("", 7, 90)
	p.MultiCell(0, 3.4, text(s.content, "caution"), "", "L", false)
	p.CellFormat(pageWidth-2*margin-25, 3.4, fmt.Sprintf("Commit %d, sha256 %s", s.mark.Sequence, s.mark.Head), "", 0, "L", false, 0, "")
	p.CellFormat(25, 3.4, fmt.Sprintf("page %d of %d", p.PageNo(), s.pages), "", 1, "R", false, 0, "")
	p.CellFormat(0, 3.4, "Statement sha256 "+s.mark.Digest, "", 0, "L", false, 0, "")
}

func text(m map[string]any, key string) string {
	s, _ := m[key].(string)
	return s
}
