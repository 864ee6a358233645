package web

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"platarium/indexer/meristic"
	pb "platarium/proto/platarium/v1"
	"platarium/server/scale"
)

// tally is how many bases of a fin are marked.
type tally struct {
	Fin          string
	Spines, Rays int
}

// Text is a tally in words, such as "first dorsal fin: 10 spines, 13 rays".
func (t tally) Text() string {
	var parts []string
	for _, p := range []struct {
		n         int
		one, more string
	}{{t.Spines, "spine", "spines"}, {t.Rays, "ray", "rays"}} {
		switch {
		case p.n == 1:
			parts = append(parts, "1 "+p.one)
		case p.n > 1:
			parts = append(parts, fmt.Sprintf("%d %s", p.n, p.more))
		}
	}
	if len(parts) == 0 {
		parts = []string{"nothing marked"}
	}
	return t.Fin + ": " + strings.Join(parts, ", ")
}

// countable are the fins whose rays are counted, with the characters that a formula names them by.
var countable = []struct {
	Fin       string
	Character meristic.Character
}{
	{"dorsal fin", meristic.Dorsal}, {"first dorsal fin", meristic.Dorsal1}, {"second dorsal fin", meristic.Dorsal2}, {"third dorsal fin", meristic.Dorsal3}, {"anal fin", meristic.Anal},
	{"first anal fin", meristic.Anal1}, {"second anal fin", meristic.Anal2}, {"pectoral fin", meristic.Pectoral}, {"pelvic fin", meristic.Pelvic}, {"caudal fin", meristic.Caudal},
}

func characterOf(fin string) (meristic.Character, bool) {
	for _, c := range countable {
		if c.Fin == fin {
			return c.Character, true
		}
	}
	return meristic.NoCharacter, false
}

// baseNames are how the bases of a fin are named, without their numbers.
func baseNames(fin string) (spine, ray string) {
	return strings.TrimSuffix(scale.BaseName(fin, true, 1), "1"), strings.TrimSuffix(scale.BaseName(fin, false, 1), "1")
}

// tallied counts the bases of a fin among landmarks.
func tallied(fin string, marks []*pb.Landmark) tally {
	t := tally{Fin: fin}
	spine, ray := baseNames(fin)
	for _, m := range marks {
		switch name := m.GetLandmark(); {
		case strings.HasPrefix(name, spine):
			t.Spines++
		case strings.HasPrefix(name, ray):
			t.Rays++
		}
	}
	return t
}

// errUncounted: a fin can't be written into a formula. The person chooses another, or marks its bases.
var errUncounted = errors.New("the count can't be written into the formula")

// counted writes what was counted into a formula: a kind of element that is marked takes the place of what the formula says of it, and everything else stays. A dorsal fin counted as one takes the place
// of the first and second, and these together that of the one.
func counted(formula string, tallies []tally) (string, error) {
	if len(tallies) == 0 {
		return formula, nil
	}
	var known []meristic.Statement
	if strings.TrimSpace(formula) != "" {
		res, err := meristic.Parse(formula, meristic.Options{})
		if err != nil && !errors.Is(err, meristic.ErrNoCount) {
			return "", fmt.Errorf("%w: %w", errUncounted, err)
		}
		known = res.Statements
	}
	for _, t := range tallies {
		c, ok := characterOf(t.Fin)
		if !ok || t.Spines+t.Rays == 0 {
			return "", fmt.Errorf("%w: found %q; want a fin of which bases are marked", errUncounted, t.Fin)
		}
		at := slices.IndexFunc(known, func(s meristic.Statement) bool { return s.Character == c })
		var old meristic.Statement
		if at >= 0 {
			old = known[at]
			known = slices.Delete(known, at, at+1)
		}
		known = append(known, meristic.Statement{Character: c, Convention: old.Convention, Counts: recounted(c, old.Counts, t)})
	}
	has := func(c meristic.Character) bool {
		return slices.ContainsFunc(known, func(s meristic.Statement) bool { return s.Character == c })
	}
	countedNow := func(c meristic.Character) bool {
		return slices.ContainsFunc(tallies, func(t tally) bool { x, _ := characterOf(t.Fin); return x == c })
	}
	switch {
	case countedNow(meristic.Dorsal):
		known = without(known, meristic.Dorsal1, meristic.Dorsal2, meristic.Dorsal3)
	case has(meristic.Dorsal1) && has(meristic.Dorsal2):
		known = without(known, meristic.Dorsal)
	}
	order := meristic.Characters()
	slices.SortStableFunc(known, func(a, b meristic.Statement) int {
		return slices.Index(order, a.Character) - slices.Index(order, b.Character)
	})
	return meristic.Print(known), nil
}

func without(list []meristic.Statement, out ...meristic.Character) []meristic.Statement {
	return slices.DeleteFunc(list, func(s meristic.Statement) bool { return slices.Contains(out, s.Character) })
}

// recounted are a character's counts once some of its elements were counted anew.
func recounted(c meristic.Character, old []meristic.Count, t tally) []meristic.Count {
	var out []meristic.Count
	one := func(e meristic.Element, n int) meristic.Count {
		return meristic.Count{Element: e, Interval: meristic.At(float64(n))}
	}
	if c == meristic.Caudal { // a caudal fin has rays alone, and its plain count is that of the principal ones
		return append(out, one(meristic.Whole, t.Spines+t.Rays))
	}
	spines := func(k meristic.Count) bool { return k.Element == meristic.Spine || k.Element == meristic.FreeSpine }
	keep := func(spinal bool) {
		for _, k := range old {
			if spines(k) == spinal && k.Element != meristic.Total && k.Element != meristic.Whole {
				out = append(out, k)
			}
		}
	}
	if t.Spines > 0 {
		out = append(out, one(meristic.Spine, t.Spines))
	} else {
		keep(true)
	}
	if t.Rays > 0 {
		out = append(out, one(meristic.Ray, t.Rays))
	} else {
		keep(false)
	}
	return out
}
