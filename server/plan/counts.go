package plan

import (
	"cmp"
	"fmt"
	"slices"

	"platarium/indexer/meristic"
)

// Source is somewhere that counts come from.
type Source struct {
	Statements []meristic.Statement
	// Text names the source: a citation, the specimen, a relative.
	Text string
	// Relative is true where it is of another species: a hint, never a target.
	Relative bool
	// Damaged are structures that the source shows damaged, so that its counts of
	// them are no target.
	Damaged []string
}

// Expected is what one source says of one character.
type Expected struct {
	Structure string // that shows it; empty if none of those wanted does
	Statement meristic.Statement
	Source    string
	Relative  bool
}

// Expect gathers the counts to be drawn. Sources stand in the order in which they are
// to be believed; all that they say is kept, so that disagreement shows. Relatives speak
// only of characters of wanted structures of which no other source speaks.
func Expect(structures []string, sources []Source) []Expected {
	var out []Expected
	for _, relative := range []bool{false, true} {
		have := len(out)
		for _, src := range sources {
			if src.Relative != relative {
				continue
			}
			for i := range src.Statements {
				st := src.Statements[i]
				s := showing(structures, st.Character)
				spoken := func(e Expected) bool { return related(e.Statement.Character, st.Character) }
				if st.Unknown || len(st.Counts) == 0 || relative && (s == "" || slices.ContainsFunc(out[:have], spoken)) {
					continue
				}
				text := src.Text
				if s != "" && slices.Contains(src.Damaged, s) {
					text += " (damaged there)"
				}
				out = append(out, Expected{Structure: s, Statement: st, Source: text, Relative: relative})
			}
		}
	}
	// By structure in the order wanted, what no structure shows last.
	place := func(e Expected) int {
		if i := slices.Index(structures, e.Structure); i >= 0 {
			return i
		}
		return len(structures)
	}
	slices.SortStableFunc(out, func(a, b Expected) int {
		return cmp.Or(cmp.Compare(place(a), place(b)), cmp.Compare(a.Statement.Character, b.Statement.Character))
	})
	return out
}

// showing is the structure wanted that shows a character best: the one that lists it
// earliest.
func showing(structures []string, c meristic.Character) string {
	best, at := "", -1
	for _, s := range structures {
		if i := slices.Index(Characters(s), c); i >= 0 && (at < 0 || i < at) {
			best, at = s, i
		}
	}
	return best
}

// Target is what is to be drawn: of each character what the first source says that isn't
// a relative and didn't have it damaged. One that counts the dorsal fins together isn't
// mixed with one that counts them apart.
func Target(sources []Source) []meristic.Statement {
	var out []meristic.Statement
	for _, src := range sources {
		if src.Relative {
			continue
		}
		have := len(out)
		for i := range src.Statements {
			st := src.Statements[i]
			damaged := slices.ContainsFunc(src.Damaged, func(s string) bool { return slices.Contains(Characters(s), st.Character) })
			spoken := func(o meristic.Statement) bool { return related(o.Character, st.Character) }
			if !st.Unknown && !damaged && !slices.ContainsFunc(out[:have], spoken) {
				out = append(out, st)
			}
		}
	}
	return out
}

// Difference is a character that the animal shown has in another number.
type Difference struct {
	Character     meristic.Character
	Shown, Wanted string // as formulae
}

// Text warns of copying.
func (d Difference) Text(animal string) string {
	return fmt.Sprintf("%s has %s; wanted %s: don't copy the number", animal, d.Shown, d.Wanted)
}

// Differences lists the characters of a structure that lie outside the target.
func Differences(structure string, shown, target []meristic.Statement) []Difference {
	chars := Characters(structure)
	// Fins that are counted together on one side are summed up on the other: all parts are needed.
	shown, target = comparable(chars, shown), comparable(chars, target)
	var out []Difference
	for _, v := range meristic.ByCharacter(meristic.Compare(shown, target, meristic.NearMiss())) {
		if v.Verdict != meristic.OutsideBy && v.Verdict != meristic.Contradicts || !slices.Contains(chars, v.Character) {
			continue
		}
		// A fin counted whole stands beside its parts.
		of := func(list []meristic.Statement) string {
			if own := Of(list, []meristic.Character{v.Character}); len(own) > 0 {
				return meristic.Print(own)
			}
			return meristic.Print(slices.DeleteFunc(slices.Clone(list), func(s meristic.Statement) bool { return !related(s.Character, v.Character) }))
		}
		out = append(out, Difference{Character: v.Character, Shown: of(shown), Wanted: of(target)})
	}
	return out
}

// comparable keeps the statements of some characters, with the parts of a fin that is
// counted whole among them.
func comparable(chars []meristic.Character, statements []meristic.Statement) []meristic.Statement {
	var out []meristic.Statement
	for i := range statements {
		if slices.ContainsFunc(chars, func(c meristic.Character) bool { return related(c, statements[i].Character) }) {
			out = append(out, statements[i])
		}
	}
	return out
}

// related says whether one character counts what the other does or a part of it.
func related(a, b meristic.Character) bool {
	return a == b || whole(a) == b || a == whole(b)
}

// whole is the fin that a character counts a part of; the character itself elsewhere.
func whole(c meristic.Character) meristic.Character {
	switch c {
	case meristic.Dorsal1, meristic.Dorsal2, meristic.Dorsal3:
		return meristic.Dorsal
	case meristic.Anal1, meristic.Anal2:
		return meristic.Anal
	default:
		return c
	}
}
