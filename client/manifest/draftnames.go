package manifest

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// Scores from which a name in a file name is worth a person's look. Common practice, no source.
const (
	nearSpecies   = 0.8  // two words that are nearly a species
	nearEveryday  = 0.97 // an everyday name as it is listed
	shortestGenus = 4    // letters
)

// guessed is what the words of a name may mean.
type guessed struct {
	name  string
	words string // as they were asked for
	exact bool
	genus bool // only a genus or higher
}

// names finds the species that the words of files and folders name.
func (d *drafter) names(ctx context.Context, c *client.Client) error {
	if c == nil {
		for i := range d.found {
			d.found[i].hints.doubt("names weren't looked up")
		}
		return nil
	}
	asked := map[string]*pb.NameMatches{}
	for i := range d.found {
		for _, list := range d.found[i].lists() {
			for _, q := range d.queries(list) {
				asked[q] = nil
			}
		}
	}
	for batch := range slices.Chunk(slices.Sorted(keys(asked)), namesAtOnce) {
		res, err := c.Taxa.MatchNames(ctx, &pb.MatchNamesRequest{Names: batch, Limit: candidates})
		if err != nil {
			return fmt.Errorf("look up names: %w", err)
		}
		if len(res.GetMatches()) != len(batch) {
			return fmt.Errorf("look up names: %d answers to %d names", len(res.GetMatches()), len(batch))
		}
		for k, m := range res.GetMatches() {
			asked[batch[k]] = m
		}
	}
	known := map[string]bool{}
	for i := range d.found {
		for _, list := range d.found[i].lists() {
			for _, g := range d.guesses(list, asked) {
				if g.exact && !g.genus {
					known[g.name] = true
				}
			}
		}
	}
	for i := range d.found {
		d.settleName(&d.found[i], asked, known)
	}
	return nil
}

func keys[V any](m map[string]V) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// lists gives the words of the file's own name, then of the folders above it.
func (f *found) lists() [][]token { return append([][]token{f.own}, f.folders...) }

// queries are the runs of words that may be a name: two neighbours, and single longer words.
func (d *drafter) queries(list []token) []string {
	var out []string
	for i, t := range list {
		if !d.nameable(t, 3) {
			continue
		}
		if utf8.RuneCountInString(t.text) >= shortestGenus {
			out = append(out, capital(t.lower))
		}
		if i+1 < len(list) && d.nameable(list[i+1], 3) {
			out = append(out, capital(t.lower)+" "+list[i+1].lower)
		}
	}
	return out
}

// nameable says whether a token may be part of a name.
func (d *drafter) nameable(t token, least int) bool {
	first, _ := utf8.DecodeRuneInString(t.lower)
	return !t.used && !d.words.noise[t.lower] && utf8.RuneCountInString(t.lower) >= least && (first < '0' || first > '9')
}

func capital(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}

// guesses reads the answers to the queries of a list, in order.
func (d *drafter) guesses(list []token, asked map[string]*pb.NameMatches) []guessed {
	var out []guessed
	for _, q := range d.queries(list) {
		found := asked[q].GetCandidates()
		if len(found) == 0 {
			continue
		}
		best, pair := found[0], strings.Contains(q, " ")
		g := guessed{name: best.GetTaxon().GetScientificName(), words: q, exact: best.GetExact(), genus: !strings.Contains(best.GetAcceptedName(), " ")}
		unique := len(found) == 1 || found[1].GetScore() < best.GetScore() || found[1].GetAccepted() == best.GetAccepted()
		switch {
		case g.exact && unique && pair == !g.genus:
		case pair && !g.genus && best.GetScore() >= nearSpecies && ahead(found), best.GetScore() >= nearEveryday && !g.genus && ahead(found):
			g.exact = false
			if g.name = best.GetTaxon().GetScientificName(); g.name == "" {
				g.name = best.GetAcceptedName()
			}
		default:
			continue
		}
		out = append(out, g)
	}
	return out
}

// settleName takes the surest guess: a species as it is spelled before an abbreviated one, one nearly spelled, and a genus alone; the file's own name before folders.
func (d *drafter) settleName(f *found, asked map[string]*pb.NameMatches, known map[string]bool) {
	var exact, near, genus []guessed
	for _, list := range f.lists() {
		for _, g := range d.guesses(list, asked) {
			switch {
			case g.exact && !g.genus:
				exact = append(exact, g)
			case g.genus:
				genus = append(genus, g)
			default:
				near = append(near, g)
			}
		}
	}
	short, full := abbreviated(f.own, known)
	switch {
	case len(exact) > 0:
		f.name = exact[0].name
		for _, g := range exact[1:] {
			if g.name != f.name {
				f.hints.doubt("two species are named, %s and %s", f.name, g.name)
				break
			}
		}
	case len(full) == 1:
		f.name = full[0]
	case len(full) > 1:
		f.hints.doubt("%s may mean %s", short, strings.Join(full, " or "))
	case len(near) > 0:
		f.name = near[0].name
		f.hints.doubt("%q was read as %s", near[0].words, f.name)
	case short != "":
		f.hints.doubt("%s: which genus?", short)
	case len(genus) > 0:
		f.name = genus[0].name
		f.hints.doubt("only %s is named, no species", f.name)
	}
}

// abbreviated finds "P_fluviatilis" in a name, and the known species that it may mean.
func abbreviated(list []token, known map[string]bool) (short string, full []string) {
	for i := 0; i+1 < len(list); i++ {
		initial, epithet := list[i], list[i+1]
		if initial.used || epithet.used || utf8.RuneCountInString(initial.text) != 1 || utf8.RuneCountInString(epithet.text) < 4 {
			continue
		}
		for name := range known {
			genus, rest, _ := strings.Cut(name, " ")
			if rest == epithet.lower && strings.HasPrefix(strings.ToLower(genus), initial.lower) {
				full = append(full, name)
			}
		}
		if short == "" && strings.ToUpper(initial.text) == initial.text && initial.lower != initial.text {
			short = initial.text + ". " + epithet.lower
		}
	}
	slices.Sort(full)
	return short, full
}
