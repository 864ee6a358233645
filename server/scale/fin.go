package scale

import (
	"errors"
	"fmt"
	"slices"
)

// maxBases bounds what is looked for in one fin; the most rays of any fin come to a few hundred.
const maxBases = 600

// Base is where one spine or ray rises.
type Base struct {
	Number   int     // among the spines or among the rays, from 1 at the front
	Spine    bool    // else a ray
	OfBase   float64 // way along the fin base, 0 at its front end and 1 at its rear end
	Position         // on the body
}

// Fin is the bases of a fin from front to back: spines, then rays.
type Fin struct {
	Name  string // the structure, such as "first dorsal fin"
	Bases []Base
}

// Count gives the number of spines and of rays.
func (f Fin) Count() (spines, rays int) {
	for _, b := range f.Bases {
		if b.Spine {
			spines++
		} else {
			rays++
		}
	}
	return spines, rays
}

// FinOf reads a fin's bases from a picture's landmarks, as BaseName calls them.
// ErrMissing if one is left out between others or there are fewer than two,
// ErrBases if they lie in one place; else errors as for MidlineOf.
func FinOf(p Picture, name string, t Tolerances) (Fin, error) {
	m, err := MidlineOf(p, t)
	if err != nil {
		return Fin{}, err
	}
	fin := Fin{Name: name}
	var at []vec
	for _, spine := range []bool{true, false} {
		numbers, err := p.baseNumbers(name, spine)
		if err != nil {
			return Fin{}, err
		}
		for n := 1; n <= numbers; n++ {
			v, _, err := p.landmark(BaseName(name, spine, n))
			if err != nil {
				return Fin{}, err
			}
			fin.Bases = append(fin.Bases, Base{Number: n, Spine: spine, Position: m.place(v)})
			at = append(at, v)
		}
	}
	if len(at) < 2 {
		n := min(len(at)+1, 2)
		return Fin{}, fmt.Errorf("%s has %d bases marked; want two or more: %w", name, len(at), &MissingError{Landmarks: []string{BaseName(name, false, n)}})
	}
	// The base of a fin is a curve: its length is that of the line through all bases.
	ways := make([]float64, len(at))
	for i := 1; i < len(at); i++ {
		ways[i] = ways[i-1] + at[i-1].toward(at[i]).length()
	}
	total := ways[len(ways)-1]
	if !(total > 0) {
		return Fin{}, fmt.Errorf("%s: all bases lie in one place: %w", name, ErrBases)
	}
	for i := range fin.Bases {
		fin.Bases[i].OfBase = ways[i] / total
	}
	return fin, nil
}

// baseNumbers counts the bases of a kind; a gap in the numbers is an error, as what follows it can't be numbered for sure.
func (p Picture) baseNumbers(fin string, spine bool) (int, error) {
	last := 0
	for n := 1; n <= maxBases; n++ {
		if _, ok := p.Landmarks[BaseName(fin, spine, n)]; !ok {
			continue
		}
		if n != last+1 {
			return 0, &MissingError{Landmarks: []string{BaseName(fin, spine, last+1)}}
		}
		last = n
	}
	return last, nil
}

// Wanted says onto what a fin's bases are carried.
type Wanted struct {
	// Spines and Rays wanted; both 0 keeps the source's.
	Spines, Rays int
	// Front and Rear are the ends of the fin base on the other body, if known.
	// With the front alone, the fin keeps its length in standard lengths.
	Front, Rear *Position
}

// Carry carries a fin's bases onto another body: places in standard lengths
// are kept, then moved and stretched so that the ends of the fin base fall
// where they are on that body. If the number of spines or of rays differs, they
// are spread anew over the stretch that spines, and that rays, take up. Remarks
// say what was done. ErrBases if nothing can be spread: there are no spines, or
// only one, where several are wanted; likewise rays.
func Carry(f Fin, w Wanted) (Fin, []string, error) {
	if len(f.Bases) == 0 {
		return Fin{}, nil, fmt.Errorf("%s has no bases: %w", f.Name, ErrBases)
	}
	spines, rays := f.Count()
	if w.Spines == 0 && w.Rays == 0 {
		w.Spines, w.Rays = spines, rays
	}
	if w.Spines < 0 || w.Rays < 0 || w.Spines+w.Rays > maxBases {
		return Fin{}, nil, fmt.Errorf("%s with %d spines and %d rays wanted: %w", f.Name, w.Spines, w.Rays, ErrBases)
	}
	var remarks []string
	out := Fin{Name: f.Name}
	for _, part := range []struct {
		spine     bool
		has, want int
		word      string
	}{{true, spines, w.Spines, "spines"}, {false, rays, w.Rays, "rays"}} {
		of := slices.DeleteFunc(slices.Clone(f.Bases), func(b Base) bool { return b.Spine != part.spine })
		spread, err := resample(of, part.want)
		if err != nil {
			return Fin{}, nil, fmt.Errorf("%s: %d %s can't be spread to %d: %w", f.Name, part.has, part.word, part.want, err)
		}
		if part.has != part.want {
			remarks = append(remarks, fmt.Sprintf("%d %s spread over the stretch of the source's %d: their places are only likely", part.want, part.word, part.has))
		}
		out.Bases = append(out.Bases, spread...)
	}
	remark, err := w.move(out.Bases)
	if err != nil {
		return Fin{}, nil, fmt.Errorf("%s: %w", f.Name, err)
	}
	whole(out.Bases)
	return out, append(remarks, remark), nil
}

// whole makes ways along the base run from 0 to 1 again, where spines or rays at an end were left out.
func whole(bases []Base) {
	first, last := bases[0].OfBase, bases[len(bases)-1].OfBase
	if first == 0 && last == 1 || first == last {
		return
	}
	for i := range bases {
		bases[i].OfBase = (bases[i].OfBase - first) / (last - first)
	}
}

// resample spreads n bases over the stretch of those given, as dense as they are at each place; the ends stay.
func resample(of []Base, n int) ([]Base, error) {
	switch {
	case n == len(of):
		return of, nil
	case n > 0 && len(of) == 0, n > 1 && len(of) == 1:
		return nil, ErrBases
	}
	out := make([]Base, n)
	for i := range out {
		place := 0.0
		if n > 1 {
			place = float64(i) * float64(len(of)-1) / float64(n-1)
		}
		k := min(int(place), len(of)-1)
		a, b, f := of[k], of[min(k+1, len(of)-1)], place-float64(k)
		out[i] = Base{
			Number:   i + 1,
			Spine:    a.Spine,
			OfBase:   lerp(a.OfBase, b.OfBase, f),
			Position: Position{lerp(a.Along, b.Along, f), lerp(a.Above, b.Above, f)},
		}
	}
	return out, nil
}

// move brings the ends of the base to where they are wanted and all between with them: turned and enlarged as one.
func (w Wanted) move(bases []Base) (string, error) {
	first, last := bases[0].Position.plane(), bases[len(bases)-1].Position.plane()
	turn, to, from := complex(1, 0), first, first
	var remark string
	switch {
	case w.Front == nil && w.Rear == nil:
		remark = "ends of the fin base as in the source, in standard lengths: set them on the body to have them exact"
	case w.Front != nil && w.Rear != nil && len(bases) > 1:
		if first == last {
			return "", fmt.Errorf("front and rear end of the fin base lie in one place: %w", ErrBases)
		}
		to = w.Front.plane()
		turn = (w.Rear.plane() - to) / (last - first)
		remark = "fitted to both ends of the fin base on the body"
	case w.Front != nil:
		to = w.Front.plane()
		remark = "moved to the front end of the fin base on the body; its length as in the source, in standard lengths"
	default:
		to, from = w.Rear.plane(), last
		remark = "moved to the rear end of the fin base on the body; its length as in the source, in standard lengths"
	}
	for i, b := range bases {
		at := to + (b.plane()-from)*turn
		bases[i].Position = Position{real(at), imag(at)}
	}
	return remark, nil
}

// plane is the position as a number of the complex plane, where to multiply is to turn and enlarge.
func (p Position) plane() complex128 { return complex(p.Along, p.Above) }

// EndsOn finds the ends of a fin's base on a body: its origin, and the base of
// the last of so many spines and rays. What isn't marked is nil.
func EndsOn(p Picture, fin string, spines, rays int, t Tolerances) (front, rear *Position, err error) {
	m, err := MidlineOf(p, t)
	if err != nil {
		return nil, nil, err
	}
	last := []string{BaseName(fin, false, rays)}
	if rays == 0 {
		last = []string{BaseName(fin, true, spines)}
	}
	var ends [2]*Position
	for i, names := range [][]string{origin(originOf(fin), fin), last} {
		n, err := p.first("", names)
		switch {
		case err == nil:
			at := m.place(n.at)
			ends[i] = &at
		case !errors.Is(err, ErrMissing):
			return nil, nil, err
		}
	}
	return ends[0], ends[1], nil
}

// originOf is the landmark of a fin's front end that has a name of its own.
func originOf(fin string) string {
	switch fin {
	case "dorsal fin", "first dorsal fin":
		return DorsalOrigin
	case "anal fin":
		return AnalOrigin
	default:
		return fin + " origin"
	}
}
