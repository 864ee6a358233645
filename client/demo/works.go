package demo

import "platarium/client/demo/draw"

// Kinds of pictures.
const (
	Plate     = "plate"
	Study     = "study"
	Reference = "reference"
)

// Source is the picture that another was made from.
type Source struct {
	Key    string
	Copied bool // traced or copied; otherwise facts were taken from it
}

// Work is one picture of the studio.
type Work struct {
	Key      string
	Kind     string
	Specimen string
	Stage    draw.Stage
	View     draw.View
	Fin      string // of a Fin view
	Length   float64
	PPI      float64
	Format   Format
	Creator  string // key of a person
	Created  string // year, month or day
	From     []Source
	Job      string
	Rebuilt  []string // structures drawn whole although the specimen lacks them
	Keywords []string
	Notes    string
	Style    int     // how its counts are written, see Formula
	NoBar    bool    // nobody has marked its scale bar
	BarAs    float64 // length of the scale bar in mm as it was entered by mistake; 0 if it was entered rightly
}

// Format is the file type of a scan.
type Format string

// File types that the studio's scanner and camera leave.
const (
	Lineart  Format = "1-bit TIFF"
	GrayTIFF Format = "8-bit gray TIFF"
	Deep     Format = "16-bit TIFF"
	ColorTIF Format = "8-bit color TIFF"
	LinePNG  Format = "1-bit PNG"
	PNG      Format = "PNG"
	JPEG     Format = "JPEG"
)

type option func(*Work)

func from(keys ...string) option {
	return func(w *Work) {
		for _, k := range keys {
			w.From = append(w.From, Source{Key: k})
		}
	}
}

func copied(key string) option {
	return func(w *Work) { w.From = append(w.From, Source{key, true}) }
}

func job(key string) option             { return func(w *Work) { w.Job = key } }
func rebuilt(parts ...string) option    { return func(w *Work) { w.Rebuilt = parts } }
func note(s string) option              { return func(w *Work) { w.Notes = s } }
func tags(ks ...string) option          { return func(w *Work) { w.Keywords = append(w.Keywords, ks...) } }
func seen(v draw.View) option           { return func(w *Work) { w.View = v } }
func finOf(name string) option          { return func(w *Work) { w.View, w.Fin = draw.Fin, name } }
func by(person string) option           { return func(w *Work) { w.Creator = person } }
func style(n int) option                { return func(w *Work) { w.Style = n } }
func barUnmarked() option               { return func(w *Work) { w.NoBar = true } }
func barEntered(mm float64) option      { return func(w *Work) { w.BarAs = mm } }
func scan(f Format, ppi float64) option { return func(w *Work) { w.Format, w.PPI = f, ppi } }
func size(mm float64) option            { return func(w *Work) { w.Length = mm } }

// shelf collects works in order.
type shelf struct{ works []Work }

func (s *shelf) add(key, kind, specimen, created string, stage draw.Stage, opts []option) {
	w := Work{Key: key, Kind: kind, Specimen: specimen, Stage: stage, Created: created, Creator: "MO"}
	switch stage {
	case draw.Outline:
		w.Length, w.PPI, w.Format = 100, 600, Lineart
	case draw.Stipple, draw.Hatching:
		w.Length, w.PPI, w.Format = 110, 400, GrayTIFF
	case draw.FinalInk:
		w.Length, w.PPI, w.Format = 90, 1000, Lineart
	case draw.ColorStudy:
		w.Length, w.PPI, w.Format = 110, 250, JPEG
	case draw.Photograph:
		w.Length, w.PPI, w.Format, w.Creator = 130, 200, JPEG, "JA"
	default:
		w.Length, w.PPI, w.Format = 120, 300, ColorTIF
	}
	if stage == draw.FinalInk || stage == draw.Outline {
		w.Creator = "AP"
	}
	for _, o := range opts {
		o(&w)
	}
	s.works = append(s.works, w)
}

func (s *shelf) photo(key, specimen, created string, opts ...option) {
	s.add(key, Reference, specimen, created, draw.Photograph, opts)
}

func (s *shelf) outline(key, specimen, created string, opts ...option) {
	s.add(key, Study, specimen, created, draw.Outline, opts)
}

func (s *shelf) dots(key, specimen, created string, opts ...option) {
	s.add(key, Study, specimen, created, draw.Stipple, opts)
}

func (s *shelf) lines(key, specimen, created string, opts ...option) {
	s.add(key, Study, specimen, created, draw.Hatching, opts)
}

func (s *shelf) wash(key, specimen, created string, opts ...option) {
	s.add(key, Study, specimen, created, draw.ColorStudy, opts)
}

func (s *shelf) color(key, specimen, created string, opts ...option) {
	s.add(key, Plate, specimen, created, draw.FinalColor, opts)
}

func (s *shelf) ink(key, specimen, created string, opts ...option) {
	s.add(key, Plate, specimen, created, draw.FinalInk, opts)
}

// AllWorks lists the studio's pictures.
func AllWorks() []Work {
	var s shelf
	rockfishSeries(&s)
	basses(&s)
	breamSeries(&s)
	openWater(&s)
	reefAndRock(&s)
	northern(&s)
	lakesAndRivers(&s)
	return s.works
}

func rockfishSeries(s *shelf) {
	s.photo("R-001", "NNHM 1998.114", "2014-03-02", job("J-01"))
	s.outline("S-001", "NNHM 1998.114", "2014-03-11", from("R-001"), job("J-01"), tags("rockfish"))
	s.color("P-001", "NNHM 1998.114", "2014-04-20", from("S-001", "R-001"), job("J-01"), tags("rockfish", "field guide"))
	s.photo("R-002", "NNHM 1998.117", "2014-03-02", job("J-01"))
	s.outline("S-002", "NNHM 1998.117", "2014-03-14", from("R-002"), job("J-01"), style(1))
	s.dots("S-003", "NNHM 1998.117", "2014-03-19", from("S-002"), job("J-01"))
	s.color("P-002", "NNHM 1998.117", "2014-05-06", from("S-002", "S-003"), job("J-01"), tags("rockfish", "field guide"))
	s.outline("S-004", "NNHM 2003.020", "2014-05-09", job("J-01"), finOf(dorsalFin), size(80))
	s.color("P-003", "NNHM 2003.020", "2014-05-28", from("S-004"), job("J-01"), tags("rockfish"))
}

func basses(s *shelf) {
	s.photo("R-003", "NNHM 2011.006", "2015-02-17", job("J-02"))
	s.outline("S-005", "NNHM 2011.006", "2015-02-20", from("R-003"), job("J-02"))
	s.lines("S-006", "NNHM 2011.006", "2015-03-03", from("S-005"), job("J-02"))
	s.wash("S-007", "NNHM 2011.006", "2015-03-10", from("R-003", "S-005"), job("J-02"))
	s.color("P-004", "NNHM 2011.006", "2015-04-01", from("S-005", "S-007"), job("J-02"), scan(Deep, 240), tags("grouper"))
	s.photo("R-004", "NNHM 2011.007", "2015-02-17", job("J-02"), note("pectoral fin torn: use the right side of NNHM 2011.006 instead"))
	s.outline("S-008", "NNHM 2011.006", "2015-02-21", seen(draw.Head), size(85), from("R-003"), job("J-02"), tags("opercle", "spines"))
	s.photo("R-005", "NNHM 1974.881", "2015-06-12", job("J-02"), note("jar not opened; photographed through glass"))
	s.dots("S-009", "NNHM 1974.881", "2015-07", from("R-005"), job("J-02"), rebuilt(dorsalFin), note("dorsal fin restored after a second specimen"))
	s.ink("P-005", "NNHM 1974.881", "2015-08-02", from("S-009", "R-005"), job("J-02"), rebuilt(dorsalFin))
	s.outline("S-010", "NNHM 2009.310", "2016-01-20", job("J-03"))
	s.color("P-006", "NNHM 2009.310", "2016-02-14", from("S-010"), job("J-03"))
	s.outline("S-011", "NNHM 2009.311", "2016-01-22", job("J-03"), style(2), scan(LinePNG, 600))
	s.dots("S-012", "NNHM 2009.311", "2016-01-29", from("S-011"), job("J-03"))
	s.outline("S-013", "STC 0412", "2016-02-02", by("TW"), note("teaching sheet"))
	s.wash("S-014", "STC 0412", "2016-02-09", by("TW"), from("S-013"))
	s.ink("P-007", "STC 0415", "2016-03-01", by("TW"), size(70), tags("small species"))
	s.outline("S-015", "STC 0415", "2016-02-25", by("TW"), seen(draw.Right), scan(GrayTIFF, 300), note("scanned in gray at 300 ppi: too coarse for line art"))
	s.photo("R-020", "SE 24-02", "2024-04-22", job("J-12"), note("lay flat on the bench, pressed by its own weight"))
	s.outline("S-060", "SE 24-02", "2024-04-23", by("TW"), job("J-12"), copied("R-020"), note("traced from the photograph"))
	s.outline("S-061", "STC 0415", "2024-05-06", job("J-12"), from("P-007"))
	s.outline("S-062", "STC 0415", "2024-05-08", seen(draw.Head), size(90), job("J-12"), from("P-007"), tags("opercle"))
}

func breamSeries(s *shelf) {
	s.photo("R-006", "NNHM 2014.051", "2017-05-04", job("J-04"))
	s.outline("S-016", "NNHM 2014.051", "2017-05-06", from("R-006"), job("J-04"))
	s.color("P-008", "NNHM 2014.051", "2017-05-30", from("S-016", "R-006"), job("J-04"), tags("bream"))
	s.outline("S-017", "NNHM 2014.052", "2017-05-08", job("J-04"))
	s.wash("S-018", "NNHM 2014.052", "2017-05-12", from("S-017"), job("J-04"), scan(PNG, 200))
	s.color("P-009", "NNHM 2014.052", "2017-06-11", from("S-018", "S-017"), job("J-04"), tags("bream"))
	s.ink("P-010", "NNHM 2014.060", "2017-07-02", job("J-04"), tags("bream"))
	s.photo("R-007", "STC 0501", "2017-05-04", job("J-04"))
	s.color("P-011", "STC 0501", "2017-06-22", from("R-007"), job("J-04"), tags("bream"))
	s.outline("S-019", "STC 0502", "2017-05-15", by("TW"), job("J-04"), barEntered(2))
	s.lines("S-020", "STC 0502", "2017-05-19", by("TW"), from("S-019"), job("J-04"))
	s.outline("S-021", "STC 0501", "2017-05-16", finOf(pectoral), size(70), from("R-007"), job("J-04"), style(1))
	s.outline("S-022", "NNHM 2014.051", "2017-05-17", seen(draw.Scale), size(60), tags("scales"), job("J-04"))
}

func openWater(s *shelf) {
	s.photo("R-008", "NNHM 1987.402", "2018-01-15", job("J-05"))
	s.outline("S-023", "NNHM 1987.402", "2018-01-18", from("R-008"), job("J-05"), rebuilt(dorsal2))
	s.color("P-012", "NNHM 1987.402", "2018-02-09", from("S-023", "R-008"), job("J-05"), rebuilt(dorsal2), scan(PNG, 250))
	s.ink("P-013", "NNHM 1987.405", "2018-02-27", job("J-05"))
	s.dots("S-024", "STC 0620", "2018-03-06", by("TW"))
	s.outline("S-025", "STC 0621", "2018-03-08", by("TW"), style(1))
	s.wash("S-026", "STC 0621", "2018-03-12", by("TW"), from("S-025"))
	s.outline("S-027", "STC 0633", "2018-03-20", job("J-05"))
	s.color("P-014", "STC 0633", "2018-04-10", from("S-027"), job("J-05"))
	s.photo("R-009", "NNHM 2001.077", "2018-06-01")
	s.color("P-015", "NNHM 2001.077", "2018-07-03", from("R-009"), size(150), scan(JPEG, 300))
	s.outline("S-028", "NNHM 2001.077", "2018-06-07", seen(draw.Head), size(90), from("R-009"), tags("jaw", "teeth"))
	s.outline("S-029", "NNHM 2001.078", "2018-06-09", size(130))
}

func reefAndRock(s *shelf) {
	s.photo("R-010", "LSA 17-031", "2017-10-03", job("J-06"))
	s.wash("S-030", "LSA 17-031", "2017-10-05", from("R-010"), job("J-06"))
	s.color("P-016", "LSA 17-031", "2017-11-20", from("S-030", "R-010"), job("J-06"), tags("wrasse", "living colors"))
	s.photo("R-011", "LSA 17-040", "2017-10-03", job("J-06"), note("breeding male"))
	s.color("P-017", "LSA 17-040", "2017-12-01", from("R-011"), job("J-06"), tags("wrasse", "living colors"))
	s.wash("S-031", "LSA 18-002", "2018-04-11", job("J-06"))
	s.color("P-018", "LSA 18-002", "2018-05-15", copied("S-031"), job("J-06"), seen(draw.Right), tags("wrasse"))
	s.color("P-019", "LSA 18-015", "2018-06-21", job("J-06"))
	s.outline("S-032", "STC 0707", "2019-01-14", by("TW"))
	s.color("P-020", "STC 0707", "2019-02-01", by("TW"), from("S-032"), scan(JPEG, 300))
	s.ink("P-021", "STC 0711", "2019-03-04", tags("goby"))
	s.outline("S-033", "STC 0712", "2019-03-06", tags("goby"))
	s.dots("S-034", "STC 0712", "2019-03-09", from("S-033"), tags("goby"))
	s.outline("S-035", "NNHM 2010.009", "2019-03-22", size(110), job("J-07"), style(1))
	s.ink("P-022", "NNHM 2010.009", "2019-04-12", from("S-035"), job("J-07"), size(80))
	s.color("P-023", "LSA 19-008", "2019-10-08", job("J-06"))
	s.photo("R-012", "LSA 20-011", "2020-02-11", job("J-06"))
	s.color("P-024", "LSA 20-011", "2020-03-15", from("R-012"), job("J-06"), tags("blenny"))
	s.wash("S-036", "LSA 20-013", "2020-03-19", job("J-06"), tags("blenny"))
	s.outline("S-037", "LSA 20-011", "2020-03-02", seen(draw.Head), size(75), from("R-012"), job("J-06"), tags("cirri"))
}

func northern(s *shelf) {
	s.photo("R-013", "NNHM 2016.200", "2020-09-08", job("J-08"))
	s.outline("S-038", "NNHM 2016.200", "2020-09-11", from("R-013"), job("J-08"))
	s.color("P-025", "NNHM 2016.200", "2020-10-20", from("S-038", "R-013"), job("J-08"), tags("gurnard"))
	s.outline("S-039", "NNHM 2016.200", "2020-09-15", seen(draw.Dorsal), from("R-013"), job("J-08"))
	s.outline("S-040", "NNHM 2016.204", "2020-09-21", job("J-08"), style(1))
	s.dots("S-041", "NNHM 2016.204", "2020-09-25", from("S-040"), job("J-08"))
	s.outline("S-042", "NNHM 1991.033", "2021-01-12", job("J-09"), size(120))
	s.color("P-026", "NNHM 1991.033", "2021-02-18", from("S-042"), job("J-09"), size(140))
	s.lines("S-043", "NNHM 1991.036", "2021-01-20", job("J-09"), size(120))
	s.ink("P-027", "NNHM 1991.036", "2021-03-02", from("S-043"), job("J-09"), size(110), scan(Lineart, 800))
	s.photo("R-014", "NNHM 1991.040", "2021-01-14", job("J-09"), note("thawed; scales and caudal fin damaged in transport"))
	s.dots("S-044", "NNHM 1991.040", "2021-01-27", from("R-014"), job("J-09"))
	s.outline("S-045", "STC 0800", "2021-04-06", job("J-09"), seen(draw.Right), size(110))
	s.wash("S-046", "STC 0800", "2021-04-13", from("S-045"), job("J-09"), seen(draw.Right))
}

func lakesAndRivers(s *shelf) {
	s.photo("R-015", "SE 21-04", "2021-06-03", job("J-10"), tags("fresh"))
	s.outline("S-047", "SE 21-04", "2021-06-05", from("R-015"), job("J-10"))
	s.color("P-028", "SE 21-04", "2021-07-01", from("S-047", "R-015"), job("J-10"), scan(Deep, 200), tags("perch"))
	s.photo("R-016", "NNHM 1959.008", "2021-06-01", job("J-10"), note("old jar; only for the head"))
	s.outline("S-048", "STC 0905", "2021-06-09", by("TW"), job("J-10"))
	s.color("P-029", "STC 0905", "2021-07-19", by("TW"), from("S-048"), job("J-10"), tags("perch"))
	s.ink("P-030", "SE 21-09", "2021-08-03", job("J-10"), style(1))
	s.outline("S-049", "SE 21-04", "2021-06-11", finOf(dorsal1), size(80), from("R-015"), job("J-10"))
	s.color("P-031", "NNHM 2005.501", "2022-01-21", job("J-10"), size(150))
	s.outline("S-050", "SE 22-01", "2022-02-11", job("J-10"), size(120))
	s.color("P-032", "SE 22-01", "2022-03-08", from("S-050"), job("J-10"), tags("trout"))
	s.photo("R-017", "NNHM 1966.012", "2022-02-02", note("bleached; measurements only"))
	s.outline("S-051", "NNHM 1966.012", "2022-02-16", from("R-017"), rebuilt(adiposeFin), size(120))
	s.wash("S-052", "SE 22-14", "2022-05-10", job("J-10"))
	s.color("P-033", "SE 22-14", "2022-06-01", from("S-052"), job("J-10"), tags("carp"))
	s.outline("S-053", "NNHM 2019.044", "2022-06-15", job("J-11"))
	s.color("P-034", "NNHM 2019.044", "2022-07-12", from("S-053"), job("J-11"), tags("carp"))
	s.outline("S-054", "NNHM 2019.049", "2022-06-18", job("J-11"))
	s.dots("S-055", "NNHM 2008.777", "2023-02-20", job("J-07"), size(100))
	s.ink("P-035", "NNHM 2008.777", "2023-03-14", from("S-055"), job("J-07"))
	s.photo("R-018", "STC 0921", "2023-09-12", job("J-11"))
	s.outline("S-056", "NNHM 2018.310", "2023-09-14", from("R-018"), job("J-11"))
	s.ink("P-036", "NNHM 2018.310", "2023-10-10", from("S-056"), job("J-11"), style(1))
	s.outline("S-057", "NNHM 2018.310", "2023-09-20", seen(draw.Dorsal), job("J-11"))
	s.outline("S-058", "NNHM 2018.322", "2023-09-25", finOf(dorsal2), size(80), job("J-11"), style(1), barUnmarked())
	s.wash("S-059", "NNHM 2018.322", "2023-10-02", job("J-11"))
	s.photo("R-019", "NNHM 2018.310", "2023-09-13", job("J-11"), seen(draw.Dorsal), tags("from above"))
}
