package manifest

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// link finds the rows that a row derives from. A bare word means a row's key, else its id, else its file.
func (s *sheet) link(i int, e *entry) []fault {
	var faults []fault
	for k := range e.sources {
		d := &e.sources[k]
		row, external := s.find(d.name)
		switch {
		case row == i:
			faults = append(faults, fault{"derived_from", fmt.Sprintf("found %q, which is the row itself", short(d.name))})
		case row >= 0:
			d.item = row
		case !external:
			faults = append(faults, fault{"derived_from", fmt.Sprintf("found %q; want the key, id or file of another row, or pictures/{id}%s", short(d.name), s.likely(d.name))})
		}
	}
	return faults
}

// find finds the row that a word means; -1 if none. External says that it is a picture of the archive.
func (s *sheet) find(word string) (row int, external bool) {
	if id, ok := strings.CutPrefix(word, "pictures/"); ok && plainID.MatchString(id) {
		if row, ok := s.byID[id]; ok {
			return row, true
		}
		return -1, true
	}
	if row, ok := s.byKey[word]; ok {
		return row, false
	}
	if row, ok := s.byID[word]; ok {
		return row, false
	}
	if p, err := cleanPath(word); err == nil {
		if row, ok := s.files[p]; ok {
			return row, false
		}
	}
	return -1, false
}

func (s *sheet) likely(word string) string {
	const most = 20_000 // labels looked at
	labels := slices.Concat(slices.Sorted(maps.Keys(s.byKey)), slices.Sorted(maps.Keys(s.files)))
	return suggestion(word, labels[:min(len(labels), most)])
}

// order puts every row after those it derives from, else as in the table. Rows in a circle are told and left out.
func (s *sheet) order(circle func(i int, way []int)) []int32 {
	const (
		fresh = iota
		open
		done
	)
	mark := make([]uint8, len(s.items))
	out := make([]int32, 0, len(s.items))
	var stack []int32
	for first := range s.items {
		stack = append(stack[:0], int32(first))
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			if mark[i] != fresh {
				if stack = stack[:len(stack)-1]; mark[i] == open {
					mark[i] = done
					out = append(out, i)
				}
				continue
			}
			mark[i] = open
			for _, source := range slices.Backward(s.items[i].sources) {
				if mark[source] == fresh {
					stack = append(stack, source)
				}
			}
		}
	}
	return s.withoutCircles(out, circle)
}

// withoutCircles finds rows whose sources come later in an order of the depth-first kind: exactly those close a circle.
func (s *sheet) withoutCircles(order []int32, circle func(i int, way []int)) []int32 {
	place := make([]int, len(s.items))
	for at, i := range order {
		place[i] = at
	}
	for at, i := range order {
		for _, source := range s.items[i].sources {
			if place[source] >= at {
				circle(int(i), s.way(source, i))
				break
			}
		}
	}
	return slices.DeleteFunc(order, func(i int32) bool { return s.items[i].state == refused })
}

// way goes from one row over its sources to another.
func (s *sheet) way(from, to int32) []int {
	back := map[int32]int32{from: from}
	for queue := []int32{from}; len(queue) > 0; queue = queue[1:] {
		for _, next := range s.items[queue[0]].sources {
			if _, seen := back[next]; !seen {
				back[next] = queue[0]
				queue = append(queue, next)
			}
		}
	}
	var way []int
	if _, ok := back[to]; !ok {
		return nil
	}
	for i := to; i != from; i = back[i] {
		way = append(way, int(i))
	}
	way = append(way, int(from))
	slices.Reverse(way)
	return way
}
