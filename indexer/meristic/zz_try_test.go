package meristic

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

func TestTry(t *testing.T) {
	f := os.Getenv("TRY")
	if f == "" {
		return
	}
	b, _ := os.ReadFile(f)
	for _, l := range strings.Split(strings.TrimRight(string(b), "\n"), "\n") {
		p := strings.SplitN(l, "\t", 2)
		c, _ := CharacterByCode(p[0])
		if len(p) < 2 {
			continue
		}
		r, err := Parse(p[1], Options{Character: c})
		fmt.Printf("%s | %s\n      => %s\n", p[0], p[1], dump(&r))
		fmt.Printf("      pr %s\n", Print(r.Statements))
		if err != nil {
			fmt.Println("      ERR", err)
		}
		for _, w := range r.Warnings {
			fmt.Println("      warn", w)
		}
		for _, w := range r.Alternatives {
			fmt.Println("      alt", w.Column, w.Text)
		}
	}
}
