package demo

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"platarium/client/demo/draw"
	"platarium/client/demo/draw/scanfile"
)

// Scan is one written file and the drawing that it holds.
type Scan struct {
	Work    Work
	File    string // slash-separated, below the folder of WriteScans
	Bytes   int64
	Width   int // pixels
	Height  int
	Drawing *draw.Drawing
}

// ScanOptions change what WriteScans does.
type ScanOptions struct {
	// PPIFactor scales every resolution; 0 means 1. Tests draw small.
	PPIFactor float64
	// Workers is the number of drawings made at once; 0 means 2.
	Workers int
	// Keep tells which works are drawn; nil means all.
	Keep func(Work) bool
}

// ErrStudio is returned when the studio's own data contradict each other: a
// programming error, of no use to a caller but to stop.
var ErrStudio = errors.New("inconsistent studio data")

// WriteScans draws the studio's pictures into dir as plates, studies and
// references, and writes manifest.csv and specimens.csv beside them. Equal
// options give equal bytes. It returns the scans in the order of AllWorks.
func WriteScans(ctx context.Context, dir string, o ScanOptions) ([]Scan, error) {
	if o.PPIFactor == 0 {
		o.PPIFactor = 1
	}
	if o.Workers == 0 {
		o.Workers = 2
	}
	var scans []Scan
	for _, w := range AllWorks() {
		if o.Keep == nil || o.Keep(w) {
			scans = append(scans, Scan{Work: w, File: fileName(w)})
		}
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	next := make(chan *Scan)
	var wg sync.WaitGroup
	for range o.Workers {
		wg.Go(func() {
			for s := range next {
				if err := s.write(dir, o.PPIFactor); err != nil {
					cancel(fmt.Errorf("work %s: %w", s.Work.Key, err))
				}
			}
		})
	}
feed:
	for i := range scans {
		select {
		case next <- &scans[i]:
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wg.Wait()
	if ctx.Err() != nil {
		return nil, context.Cause(ctx)
	}
	if err := writeManifests(dir, scans); err != nil {
		return nil, err
	}
	return scans, nil
}

// write draws one work and writes its file.
func (s *Scan) write(dir string, factor float64) error {
	d, err := s.Work.Draw()
	if err != nil {
		return err
	}
	r, err := d.Render(s.Work.PPI * factor)
	if err != nil {
		return err
	}
	b, err := encode(r, s.Work)
	if err != nil {
		return err
	}
	path := filepath.Join(dir, filepath.FromSlash(s.File))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("scans folder: %w", err)
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		return fmt.Errorf("write scan: %w", err)
	}
	s.Drawing, s.Bytes, s.Width, s.Height = d, int64(len(b)), r.W, r.H
	return nil
}

// Draw makes the work's drawing from its specimen.
func (w Work) Draw() (*draw.Drawing, error) {
	sp, ok := findSpecimen(w.Specimen)
	if !ok {
		return nil, fmt.Errorf("%w: no specimen %q", ErrStudio, w.Specimen)
	}
	f, err := sp.Figure()
	if err != nil {
		return nil, err
	}
	o := draw.Options{Stage: w.Stage, View: w.View, Fin: w.Fin, Length: w.Length, Seed: seedOf(w.Key), Damage: w.damage(sp)}
	if w.Stage == draw.Photograph {
		o.Tag = sp.Key
	} else {
		o.Caption = sp.Species
	}
	return draw.Draw(f, o)
}

// damage is what shows of the specimen's damage: a plate or study may restore
// structures, and drawn work keeps the colors of life and a straight body.
func (w Work) damage(sp Specimen) draw.Damage {
	d := sp.Damage
	d.Rebuilt = w.Rebuilt
	if len(w.Rebuilt) > 0 {
		d.Torn, d.Hidden = nil, nil
		for _, t := range sp.Damage.Torn {
			if !contains(w.Rebuilt, t.Fin) {
				d.Torn = append(d.Torn, t)
			}
		}
		for _, h := range sp.Damage.Hidden {
			if !contains(w.Rebuilt, h) {
				d.Hidden = append(d.Hidden, h)
			}
		}
	}
	if w.Kind != Reference {
		d.Bend, d.Faded = 0, 0
	}
	return d
}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

// Figure is the specimen's species with the specimen's size and counts.
func (sp Specimen) Figure() (draw.Fish, error) {
	f, ok := figure(sp.Species)
	if !ok {
		return draw.Fish{}, fmt.Errorf("%w: no figure of %q", ErrStudio, sp.Species)
	}
	f.SL = sp.SL
	if sp.Flat {
		f.Body.Depth *= 1.2
		f.Face.Head *= 0.88
	}
	if sp.LateralLine > 0 {
		f.Scales.LateralLine = sp.LateralLine
	}
	for i := range f.Fins {
		fin := &f.Fins[i]
		if fin.Kind == draw.AdiposeFin {
			continue
		}
		found := false
		for _, e := range sp.Counts {
			if e.Fin == fin.Name {
				fin.Spines, fin.Unbranched, fin.Rays = e.Spines, e.Unbranched, e.Rays
				found = true
			}
		}
		if !found {
			return draw.Fish{}, fmt.Errorf("%w: specimen %s states no %s", ErrStudio, sp.Key, fin.Name)
		}
	}
	return f, nil
}

func findSpecimen(key string) (Specimen, bool) {
	for _, s := range AllSpecimens() {
		if s.Key == key {
			return s, true
		}
	}
	return Specimen{}, false
}

// seedOf gives each work its own grain (FNV-1a).
func seedOf(key string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(key) {
		h = (h ^ uint64(key[i])) * 1099511628211
	}
	return h
}

// encode writes the file that the work's format asks for.
func encode(r *draw.Raster, w Work) ([]byte, error) {
	m := w.meta()
	var b bytes.Buffer
	var err error
	switch w.Format {
	case Lineart:
		err = scanfile.TIFF(&b, r, m, scanfile.TIFFOptions{Bits: 1, Deflate: true})
	case GrayTIFF, ColorTIF:
		err = scanfile.TIFF(&b, r, m, scanfile.TIFFOptions{Bits: 8, Deflate: true})
	case Deep:
		err = scanfile.TIFF(&b, r, m, scanfile.TIFFOptions{Bits: 16})
	case LinePNG:
		err = scanfile.PNG(&b, r, m, 1)
	case PNG:
		err = scanfile.PNG(&b, r, m, 8)
	case JPEG:
		err = scanfile.JPEG(&b, r, m, 88)
	default:
		err = fmt.Errorf("%w: unknown format %q", ErrStudio, w.Format)
	}
	return b.Bytes(), err
}

// meta is what the studio writes into its files.
func (w Work) meta() scanfile.Meta {
	p := person(w.Creator)
	year, _, _ := strings.Cut(w.Created, "-")
	m := scanfile.Meta{
		Title: w.Title(), Description: w.Title() + ". Specimen " + w.Specimen + ". " + w.Formula(),
		Creator: p.Name, Copyright: "© " + year + " " + Studio().Name, Credit: w.Credit(), Usage: "All uses by written licence only.",
		WebStatement: w.RightsStatement(), Keywords: w.AllKeywords(), Software: "Ebbvik scanning bench",
	}
	for _, layout := range []string{time.DateOnly, "2006-01", "2006"} {
		if t, err := time.Parse(layout, w.Created); err == nil {
			m.Created = t
			break
		}
	}
	return m
}
