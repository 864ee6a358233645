package manifest

import (
	"errors"
	"fmt"
	"path"
	"regexp"
	"strconv"
	"strings"
	"time"

	"platarium/indexer/meristic"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

var (
	plainID   = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{2,61}[a-z0-9]$`)
	taxonID   = regexp.MustCompile(`^(T[0-9]{6,}|[a-z0-9][a-z0-9-]{2,61}[a-z0-9])$`)
	decimal   = regexp.MustCompile(`^[0-9]{1,12}(\.[0-9]{1,12})?$`)
	edtfDate  = regexp.MustCompile(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?[?~%]?$`)
	edtfMasks = regexp.MustCompile(`^([0-9]{3}X|[0-9]{2}XX|[0-9]{4}-XX|[0-9]{4}-[0-9]{2}-XX|[0-9]{4}-XX-XX)$`)
)

// parts splits a cell at semicolons; empty parts don't count.
func parts(s string) []string {
	var out []string
	for p := range strings.SplitSeq(s, ";") {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// creditParts splits a credit line at semicolons and at slashes between spaces.
func creditParts(s string) []string { return parts(strings.ReplaceAll(s, " / ", ";")) }

func parseID(s string) (string, error) {
	if !plainID.MatchString(s) {
		return "", fmt.Errorf("found %q; want 4 to 63 lower-case letters, digits and hyphens, beginning and ending with a letter or digit", short(s))
	}
	return s, nil
}

// parseName reads a resource name of a collection; the id alone won't do, so that a mistake is noticed.
func parseName(s, collection string) (string, error) {
	id, ok := strings.CutPrefix(s, collection+"/")
	pattern := plainID
	if collection == "taxa" {
		pattern = taxonID
	}
	if !ok || !pattern.MatchString(id) {
		return "", fmt.Errorf("found %q; want %s/{id}", short(s), collection)
	}
	return s, nil
}

func parseQualifier(s string) (string, error) {
	switch strings.ToLower(strings.TrimSuffix(s, ".")) {
	case "cf":
		return "cf.", nil
	case "aff":
		return "aff.", nil
	case "?":
		return "?", nil
	default:
		return "", fmt.Errorf("found %q; want cf., aff. or ?, or nothing", short(s))
	}
}

// parseDate verifies a date in EDTF (ISO 8601-2:2019): what the archive takes.
func parseDate(s string) (string, error) {
	from, to, interval := strings.Cut(s, "/")
	ok := datePart(from, interval)
	if interval {
		ok = ok && datePart(to, true) && (from != ".." && from != "" || to != ".." && to != "")
	}
	if !ok {
		return "", fmt.Errorf("found %q; want a date such as 1987, 1987-06, 1987-06-15, 198X, 1987~ or 1987/1990 (EDTF)", short(s))
	}
	return s, nil
}

func datePart(s string, inInterval bool) bool {
	if inInterval && (s == "" || s == "..") || edtfMasks.MatchString(s) {
		return true
	}
	if !edtfDate.MatchString(s) {
		return false
	}
	s = strings.TrimRight(s, "?~%")
	_, err := time.Parse(time.DateOnly[:len(s)], s)
	return err == nil
}

func parseStatement(s string) (string, error) {
	rest := strings.TrimPrefix(strings.TrimPrefix(s, "https://"), "http://")
	if rest == s || !strings.HasPrefix(rest, "rightsstatements.org/") && !strings.HasPrefix(rest, "creativecommons.org/") {
		return "", fmt.Errorf("found %q; want the URI of a statement at rightsstatements.org or a licence at creativecommons.org, or nothing", short(s))
	}
	return rights.CanonicalURI(s), nil // as the archive keeps it, so that the same row again is the same record
}

// checkFormula refuses what can't be meant in any fish.
func checkFormula(s string) error {
	if _, err := meristic.Parse(s, meristic.Options{}); err != nil {
		return fmt.Errorf("found %q: %s", short(s), strings.TrimPrefix(err.Error(), "meristic: "))
	}
	return nil
}

// number reads a plain decimal: no sign, exponent, blank or comma, and nothing like NaN.
func number(s string) (float64, error) {
	if !decimal.MatchString(s) {
		return 0, fmt.Errorf("found %q; want a number from 0 up with a point, such as 0.25", short(s))
	}
	return strconv.ParseFloat(s, 64)
}

func numbers(s string, n int) ([]float64, error) {
	list := strings.Split(s, ",")
	if len(list) != n {
		return nil, fmt.Errorf("found %q; want %d numbers separated by commas", short(s), n)
	}
	out := make([]float64, n)
	for i, part := range list {
		x, err := number(strings.TrimSpace(part))
		if err != nil {
			return nil, err
		}
		out[i] = x
	}
	return out, nil
}

func fractions(s string, n int) ([]float64, error) {
	out, err := numbers(s, n)
	for _, x := range out {
		if x > 1 {
			return nil, fmt.Errorf("found %q; want fractions of width and height, from 0 to 1", short(s))
		}
	}
	return out, err
}

// parseStructures reads "first dorsal fin=complete@0.3,0.1,0.2,0.2; pectoral fin=damaged".
func parseStructures(s string) ([]*pb.Structure, error) {
	var out []*pb.Structure
	for _, part := range parts(s) {
		head, region, outlined := strings.Cut(part, "@")
		name, condition, stated := strings.Cut(head, "=")
		st := &pb.Structure{Structure: strings.ToLower(strings.Join(strings.Fields(name), " "))}
		if st.GetStructure() == "" {
			return nil, fmt.Errorf("found %q; want a part's name first, as in first dorsal fin=complete", short(part))
		}
		if stated {
			if err := parseWord(&st.Completeness, strings.TrimSpace(condition)); err != nil {
				return nil, fmt.Errorf("%s: %w", short(st.GetStructure()), err)
			}
		}
		if outlined {
			r, err := parseRegion(strings.TrimSpace(region))
			if err != nil {
				return nil, fmt.Errorf("%s: %w", short(st.GetStructure()), err)
			}
			st.Region = r
		}
		out = append(out, st)
	}
	return out, nil
}

func parseRegion(s string) (*pb.Region, error) {
	const hair = 1e-6 // rounding beyond an edge that the archive takes
	f, err := fractions(s, 4)
	if err != nil {
		return nil, err
	}
	if f[2] == 0 || f[3] == 0 || f[0]+f[2] > 1+hair || f[1]+f[3] > 1+hair {
		return nil, fmt.Errorf("found %q; want x,y,width,height of a rectangle inside the picture", short(s))
	}
	return &pb.Region{X: f[0], Y: f[1], Width: f[2], Height: f[3]}, nil
}

// parseLandmarks reads "snout tip@0.1,0.5; hypural end@0.82,0.49".
func parseLandmarks(s string) ([]*pb.Landmark, error) {
	var out []*pb.Landmark
	for _, part := range parts(s) {
		name, at, ok := strings.Cut(part, "@")
		if name = strings.TrimSpace(name); !ok || name == "" {
			return nil, fmt.Errorf("found %q; want name@x,y, as in snout tip@0.1,0.5", short(part))
		}
		f, err := fractions(strings.TrimSpace(at), 2)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", short(name), err)
		}
		out = append(out, &pb.Landmark{Landmark: name, X: f[0], Y: f[1]})
	}
	return out, nil
}

// parseCalibration reads "0.1,0.9,0.3,0.9=50 scale bar".
func parseCalibration(s string) (*pb.Calibration, error) {
	ends, length, ok := strings.Cut(s, "=")
	if !ok {
		return nil, fmt.Errorf("found %q; want x1,y1,x2,y2=millimeters basis, as in 0.1,0.9,0.3,0.9=50 scale bar", short(s))
	}
	f, err := fractions(strings.TrimSpace(ends), 4)
	if err != nil {
		return nil, err
	}
	mm, basis, _ := strings.Cut(strings.TrimSpace(length), " ")
	x, err := number(strings.TrimSuffix(mm, "mm"))
	if err != nil {
		return nil, err
	}
	if x == 0 || f[0] == f[2] && f[1] == f[3] {
		return nil, fmt.Errorf("found %q; want two different ends and a length above 0", short(s))
	}
	return &pb.Calibration{X1: f[0], Y1: f[1], X2: f[2], Y2: f[3], LengthMm: x, Basis: strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(basis), "mm "))}, nil
}

// derivation is a source as a cell names it.
type derivation struct {
	name string // a row's key, id or file, pictures/{id}, or words
	role pb.DerivationRole
	item int // the row meant; -1 if it isn't a row of this manifest
}

// parseDerivations reads "P11:copied; references/perch fresh.jpg:fact".
func parseDerivations(s string) ([]derivation, error) {
	var out []derivation
	for _, part := range parts(s) {
		d := derivation{name: part, role: pb.DerivationRole_DERIVATION_ROLE_COPIED, item: -1}
		if i := strings.LastIndexByte(part, ':'); i >= 0 {
			switch strings.ToLower(strings.TrimSpace(part[i+1:])) {
			case "fact":
				d.name, d.role = part[:i], pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE
			case "copied":
				d.name = part[:i]
			}
		}
		if d.name = strings.TrimSpace(d.name); d.name == "" {
			return nil, fmt.Errorf("found %q; want what it was made from before the colon", short(part))
		}
		out = append(out, d)
	}
	return out, nil
}

// roleWord is the suffix that parseDerivations reads.
func roleWord(r pb.DerivationRole) string {
	if r == pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE {
		return ":fact"
	}
	return ":copied"
}

var errPath = errors.New("want a path below the manifest's folder")

// cleanPath turns a cell into a slash-separated path that stays below the folder by its form; links are watched when it is opened.
func cleanPath(s string) (string, error) {
	p := strings.ReplaceAll(s, `\`, "/")
	switch {
	case strings.ContainsRune(p, 0):
		return "", fmt.Errorf("found a NUL character; %w", errPath)
	case strings.HasPrefix(p, "/"), strings.HasPrefix(p, "~"), len(p) >= 2 && p[1] == ':':
		return "", fmt.Errorf("found %q, which starts outside it; %w, such as plates/perch.tif", short(s), errPath)
	}
	for element := range strings.SplitSeq(p, "/") {
		if element == ".." {
			return "", fmt.Errorf(`found %q, which leads out of it; %w, without ".."`, short(s), errPath)
		}
	}
	if p = path.Clean(p); p == "." {
		return "", fmt.Errorf("found %q, which is a folder; want a file", short(s))
	}
	return p, nil
}
