package media

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

func TestVocabularyIsATree(t *testing.T) {
	for i, e := range entries {
		if i > 0 && entries[i-1].Path >= e.Path {
			t.Errorf("%s is out of order", e.Path)
		}
		if up := strings.LastIndexByte(e.Path, '.'); up > 0 {
			if _, ok := Find(e.Path[:up]); !ok {
				t.Errorf("%s has no parent", e.Path)
			}
		}
		if e.Label == "" {
			t.Errorf("%s has no label", e.Path)
		}
	}
	if len(Entries()) != len(entries) {
		t.Error("Entries is not the vocabulary")
	}
}

func TestCheckSuggests(t *testing.T) {
	for found, wanted := range map[string]string{
		"print.bok":           "print.book",
		"hardbak":             "print.book.hardback",
		"website":             "digital.web",
		"print.book.hardcove": "one of print.book.childrens",
		"print.book.vellum":   "one of print.book.childrens",
		"hologram":            "such as broadcast",
		"":                    "such as broadcast",
		"Print.Book":          "print.book",
	} {
		var e *PathError
		if err := Check(found); !errors.As(err, &e) || e.Found != found || !strings.Contains(e.Wanted, wanted) {
			t.Errorf("Check(%q) = %v, want mention of %q", found, err, wanted)
		}
	}
	for _, ok := range []string{"*", "print", "print.book.hardback"} {
		if err := Check(ok); err != nil {
			t.Errorf("Check(%q) = %v", ok, err)
		}
	}
}

func TestLater(t *testing.T) {
	v := []Entry{{Path: "print"}, {Path: "print.hologram", Since: "2030-01-01"}, {Path: "scent", Since: "2031-06-01"}}
	for day, want := range map[string][]string{
		"2025-01-01": {"print.hologram", "scent"},
		"2030-01-01": {"scent"},
		"2031-06-01": nil,
	} {
		if got := later(v, day); !slices.Equal(got, want) {
			t.Errorf("later(%s) = %v, want %v", day, got, want)
		}
	}
	if got := Later(""); len(got) != 0 {
		t.Errorf("the first edition is known from the beginning, Later = %v", got)
	}
}
