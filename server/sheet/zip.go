package sheet

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
	"google.golang.org/protobuf/encoding/protojson"

	"platarium/storage/imaging"
)

// Crops says how the crops are to be made.
type Crops struct {
	Job
	MediaType string // imaging.TIFF or imaging.PNG
	Depth     int    // bits a sample, 8 or 16; 0 keeps that of each original
}

// cropPPI are the resolutions at which crops are made, so that the size in print comes out round; cropPixels bounds one crop.
var cropPPI = []float64{600, 300, 150, 75, 36, 18, 9, 4, 2, 1}

const cropPixels = 100e6

// Zip writes the crops, all with the same pixels per inch at the printed size, so that a program that reads the resolution opens them at that size, and one that doesn't opens them at one
// scale all the same; with plan.json and a README.txt that lists what is in it and what was left out.
func (c Crops) Zip(ctx context.Context, cutter Cutter, w io.Writer) error {
	if err := c.check(); err != nil {
		return err
	}
	body, chosen := pieces(c.Job)
	all := chosen
	if body != nil {
		all = append([]*piece{body}, chosen...)
	}
	ppi := commonPPI(all)
	var scaled []*piece
	for _, p := range all {
		if p.lack == "" {
			scaled = append(scaled, p)
		}
	}
	if err := cutAll(ctx, cutter, c.Dir, batches(scaled, func(p *piece) imaging.Cut { return c.cut(p, ppi) })); err != nil {
		return err
	}
	z := zip.NewWriter(w)
	names := cropNames(all, imaging.Extension(c.MediaType))
	if err := c.add(z, "README.txt", zip.Deflate, strings.NewReader(c.readme(all, names, ppi, leftOut(c.Job, body, chosen)))); err != nil {
		return err
	}
	plan, err := planJSON(c.Job)
	if err != nil {
		return err
	}
	if err := c.add(z, "plan.json", zip.Deflate, bytes.NewReader(plan)); err != nil {
		return err
	}
	for i, p := range all {
		if p.file == "" {
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := c.addFile(z, names[i], p.file); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("write the zip: %w", err)
	}
	return nil
}

// enough is how much of the finest crop's resolution must be kept: a few percent less show to nobody.
const enough = 0.95

// commonPPI is the coarsest of the usual resolutions that does for the finest crop, but at most 600, and less where a crop would have more pixels than a drawing program likes.
func commonPPI(all []*piece) float64 {
	finest, largest := 0.0, 0.0 // ppi, square inches
	for _, p := range all {
		if p.lack == "" {
			w, h := p.size()
			finest, largest = max(finest, p.effectivePPI()), max(largest, w*h/mmPerInch/mmPerInch)
		}
	}
	ppi := cropPPI[0]
	for _, f := range cropPPI[1:] {
		if f >= enough*finest || ppi*ppi*largest > cropPixels {
			ppi = f
		}
	}
	return ppi
}

func (c Crops) cut(p *piece, ppi float64) imaging.Cut {
	w, h := p.size()
	pixels := func(mm float64) int { return max(1, int(math.Round(mm/mmPerInch*ppi))) }
	return imaging.Cut{
		X: p.part.x, Y: p.part.y, Width: p.part.width, Height: p.part.height, OutWidth: pixels(w), OutHeight: pixels(h),
		Mirror: p.candidate.GetMirror(), Depth: c.Depth, MediaType: c.MediaType, PPI: ppi,
	}
}

func (c Crops) add(z *zip.Writer, name string, method uint16, r io.Reader) error {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: c.Made.UTC()})
	if err == nil {
		_, err = io.Copy(w, r)
	}
	if err != nil {
		return fmt.Errorf("write %s into the zip: %w", name, err)
	}
	return nil
}

// addFile adds a crop as it is: its format has compressed it.
func (c Crops) addFile(z *zip.Writer, name, file string) error {
	f, err := os.Open(filepath.Clean(file))
	if err != nil {
		return fmt.Errorf("read a crop: %w", err)
	}
	defer func() { _ = f.Close() }()
	return c.add(z, name, zip.Store, f)
}

// cropNames are file names of letters, digits and hyphens, each once: number and structure, so that they sort as the plan does, then the picture.
func cropNames(all []*piece, ext string) []string {
	used := map[string]bool{}
	out := make([]string, len(all))
	for i, p := range all {
		stem := fmt.Sprintf("%02d-%s-%s", p.number, slug(p.structure, 40), slug(strings.TrimPrefix(p.candidate.GetPicture().GetName(), "pictures/"), 60))
		name := stem + ext
		for n := 2; used[name]; n++ {
			name = fmt.Sprintf("%s-%d%s", stem, n, ext)
		}
		used[name] = true
		out[i] = name
	}
	return out
}

// slug turns words into lower-case ASCII letters and digits with hyphens between, at most so many.
func slug(s string, most int) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(strings.ToLower(s)) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case unicode.Is(unicode.Mn, r):
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	out := b.String()
	if len(out) > most {
		out = out[:most]
	}
	if out = strings.TrimRight(out, "-"); out == "" {
		return "x"
	}
	return out
}

// planJSON is the plan as the contract has it, laid out the same each time.
func planJSON(j Job) ([]byte, error) {
	b, err := protojson.Marshal(j.Plan)
	var out bytes.Buffer
	if err == nil {
		err = json.Indent(&out, b, "", "  ")
	}
	if err != nil {
		return nil, fmt.Errorf("write the plan: %w", err)
	}
	return append(out.Bytes(), '\n'), nil
}
