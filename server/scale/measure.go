package scale

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Measurement is a length of the animal by its usual code.
type Measurement string

// Measurements. Definitions follow common practice in ichthyology, no source.
const (
	SL  Measurement = "SL"  // standard length: snout tip to hypural end
	FL  Measurement = "FL"  // fork length: snout tip to fork
	TL  Measurement = "TL"  // total length: snout tip to tail tip
	HL  Measurement = "HL"  // head length: snout tip to opercle edge
	BD  Measurement = "BD"  // greatest body depth
	ED  Measurement = "ED"  // eye diameter, lengthwise
	SnL Measurement = "SnL" // snout length: snout tip to front of the eye
	POL Measurement = "POL" // postorbital length: rear of the eye to opercle edge
	PDL Measurement = "PDL" // predorsal length: snout tip to origin of the (first) dorsal fin
	PAL Measurement = "PAL" // preanal length: snout tip to origin of the anal fin
)

// Measurements lists all that can be measured here, in the order in which they are shown.
func Measurements() []Measurement {
	return []Measurement{SL, FL, TL, HL, BD, ED, SnL, POL, PDL, PAL}
}

// Length is a length measured in a picture.
type Length struct {
	Measurement Measurement
	Pixels      float64
	Uncertainty float64 // standard uncertainty, pixels
	// MM and UncertaintyMM are 0 until a scale is laid on by At.
	MM, UncertaintyMM float64
	// Along is true if it was measured along a bent midline instead of straight.
	Along bool

	pulls []pull
	sigma float64 // standard error of each landmark, pixels
}

// pull is how fast a length grows as one of its landmarks moves; it is what
// lets lengths that share a landmark be divided with the right uncertainty.
type pull struct {
	landmark string
	by       vec
}

// Words gives the name of a measurement in words, such as "head length".
func (m Measurement) Words() string {
	for _, w := range wordsOf() {
		if w.m == m {
			return w.words[0]
		}
	}
	return string(m)
}

// ParseMeasurement reads a code or name, such as "HL", "head length" or "depth of body": ErrMeasurement if it is none of this package's.
func ParseMeasurement(s string) (Measurement, error) {
	key := strings.Join(strings.Fields(strings.ToLower(strings.NewReplacer("-", " ", "_", " ", ".", " ").Replace(s))), " ")
	key = strings.TrimPrefix(strings.TrimPrefix(key, "the "), "greatest ")
	for _, w := range wordsOf() {
		if strings.EqualFold(string(w.m), key) || slices.Contains(w.words, key) {
			return w.m, nil
		}
	}
	return "", fmt.Errorf("%w %q", ErrMeasurement, s)
}

type wording struct {
	m     Measurement
	words []string
}

// wordsOf holds the usual names, the fullest first.
func wordsOf() []wording {
	return []wording{
		{SL, []string{"standard length", "body length", "length to hypural end"}},
		{FL, []string{"fork length", "length to fork"}},
		{TL, []string{"total length"}},
		{HL, []string{"head length", "head", "length of head"}},
		{BD, []string{"body depth", "depth", "depth of body", "maximum body depth", "maximum depth", "body height"}},
		{ED, []string{"eye diameter", "eye", "orbit", "orbit diameter", "diameter of eye", "horizontal eye diameter", "eye length"}},
		{SnL, []string{"snout length", "snout", "preorbital length", "length of snout"}},
		{POL, []string{"postorbital length", "postorbital", "postorbital head length"}},
		{PDL, []string{"predorsal length", "predorsal", "predorsal distance", "snout to dorsal origin"}},
		{PAL, []string{"preanal length", "preanal", "preanal distance", "snout to anal origin"}},
	}
}

// node is a named place in pixels.
type node struct {
	name string
	at   vec
}

// Measure takes one length from a picture's landmarks: straight between them,
// and for SL, FL and TL along the midline where points of one are set. A
// *MissingError says which landmarks it lacks; ErrOutside, ErrTooShort and
// ErrNoPixels are wrapped with the landmark's name.
func Measure(p Picture, m Measurement, t Tolerances) (Length, error) {
	if err := p.check(); err != nil {
		return Length{}, err
	}
	path, along, err := p.path(m, t)
	if err != nil {
		return Length{}, err
	}
	l := Length{Measurement: m, Along: along, sigma: t.landmarkError(p.Frame)}
	for i := 1; i < len(path); i++ {
		d := path[i-1].at.toward(path[i].at)
		l.Pixels += d.length()
		l.pull(path[i-1].name, d.unit().times(-1))
		l.pull(path[i].name, d.unit())
	}
	if !(l.Pixels > 0) {
		return Length{}, fmt.Errorf("%s from %q to %q is %w; set one of them again", m, path[0].name, path[len(path)-1].name, ErrTooShort)
	}
	var square float64
	for _, g := range l.pulls {
		square += g.by.dot(g.by)
	}
	l.Uncertainty = l.sigma * math.Sqrt(square)
	return l, nil
}

// MeasureAll takes every length that can be had, with a scale if s has one, and says what the others lack.
func MeasureAll(p Picture, s Scale, t Tolerances) ([]Length, []error) {
	var found []Length
	var lacking []error
	for _, m := range Measurements() {
		l, err := Measure(p, m, t)
		if err != nil {
			lacking = append(lacking, err)
			continue
		}
		found = append(found, l.At(s))
	}
	return found, lacking
}

// At gives the length in mm by a scale. The scale's error is taken as
// independent of the landmarks', which is too wide where the scale rests on the
// same landmarks.
func (l Length) At(s Scale) Length {
	if !positive(s.MMPerPixel) {
		return l
	}
	l.MM = l.Pixels * s.MMPerPixel
	l.UncertaintyMM = l.MM * math.Hypot(l.Uncertainty/l.Pixels, s.Uncertainty)
	return l
}

// pull adds to a landmark's.
func (l *Length) pull(name string, by vec) {
	for i := range l.pulls {
		if l.pulls[i].landmark == name {
			l.pulls[i].by = l.pulls[i].by.plus(by)
			return
		}
	}
	l.pulls = append(l.pulls, pull{name, by})
}

// path gives the landmarks that a length runs through.
func (p Picture) path(m Measurement, t Tolerances) (path []node, along bool, err error) {
	var from, to []string
	switch m {
	case SL:
		from, to = []string{SnoutTip}, []string{HypuralEnd}
	case FL:
		from, to = []string{SnoutTip}, []string{Fork}
	case TL:
		from, to = []string{SnoutTip}, []string{TailTip}
	case HL:
		from, to = []string{SnoutTip}, []string{OpercleEdge}
	case BD:
		from, to = []string{Back}, []string{Belly}
	case ED:
		from, to = []string{EyeFront}, []string{EyeRear}
	case SnL:
		from, to = []string{SnoutTip}, []string{EyeFront}
	case POL:
		from, to = []string{EyeRear}, []string{OpercleEdge}
	case PDL:
		from, to = []string{SnoutTip}, origin(DorsalOrigin, "first dorsal fin", "dorsal fin")
	case PAL:
		from, to = []string{SnoutTip}, origin(AnalOrigin, "anal fin")
	default:
		return nil, false, fmt.Errorf("%w %q", ErrMeasurement, m)
	}
	if m == SL || m == FL || m == TL {
		if path, along, err = p.bent(m, to[0], t); along || err != nil {
			return path, along, err
		}
	}
	a, errA := p.first(m, from)
	b, errB := p.first(m, to)
	if err := joinMissing(m, errA, errB); err != nil {
		return nil, false, err
	}
	return []node{a, b}, false, nil
}

// origin lists what marks the front end of a fin: the landmark of that name, else its first spine, else its first ray.
func origin(landmark string, fins ...string) []string {
	names := []string{landmark}
	for _, fin := range fins {
		names = append(names, BaseName(fin, true, 1), BaseName(fin, false, 1))
	}
	return names
}

// first gives the first landmark of the names that is set; the first name stands for all in the error.
func (p Picture) first(m Measurement, names []string) (node, error) {
	for _, name := range names {
		if v, ok, err := p.landmark(name); ok {
			return node{name, v}, err
		}
	}
	return node{}, &MissingError{m, names[:1]}
}

// bent gives the path of a length along the midline; along is false if no midline is set.
func (p Picture) bent(m Measurement, end string, t Tolerances) (path []node, along bool, err error) {
	_, one := p.Landmarks[MidlineName(1)]
	_, two := p.Landmarks[MidlineName(2)] // without 1 a gap, not a straight body
	if !one && !two {
		return nil, false, nil
	}
	path, err = p.midlineNodes(m, t)
	if err != nil {
		return nil, true, err
	}
	if m == SL {
		return path, true, nil
	}
	tail, err := p.first(m, []string{end})
	return append(path, tail), true, err
}

// joinMissing makes one error of the landmarks that both ends lack.
func joinMissing(m Measurement, errs ...error) error {
	var names []string
	for _, err := range errs {
		var missing *MissingError
		switch {
		case err == nil:
		case errors.As(err, &missing):
			names = append(names, missing.Landmarks...)
		default:
			return err
		}
	}
	if names == nil {
		return nil
	}
	return &MissingError{m, names}
}
