package pathset

// Minus is the set of the names in s and not in t.
func (s Set) Minus(t Set) Set {
	if s.Empty() || t.IsAll() {
		return Set{}
	}
	if t.Empty() {
		return s
	}
	return combine(s, t, func(a, b bool) bool { return a && !b })
}

// And is the set of the names in both.
func (s Set) And(t Set) Set {
	if s.IsAll() {
		return t
	}
	if t.IsAll() {
		return s
	}
	if s.Empty() || t.Empty() {
		return Set{}
	}
	return combine(s, t, func(a, b bool) bool { return a && b })
}

// Or is the set of the names in either.
func (s Set) Or(t Set) Set {
	if s.Empty() {
		return t
	}
	if t.Empty() {
		return s
	}
	return combine(s, t, func(a, b bool) bool { return a || b })
}

// Meets reports whether the sets share a name. It allocates nothing.
func (s Set) Meets(t Set) bool {
	if s.Empty() || t.Empty() {
		return false
	}
	if s.IsAll() || t.IsAll() {
		return true
	}
	w := walk{a: s.marks, b: t.marks}
	for w.next() {
		if w.inA() && w.inB() {
			return true
		}
	}
	return false
}

// Covers reports whether every name in t is in s. It allocates nothing.
func (s Set) Covers(t Set) bool {
	if t.Empty() || s.IsAll() {
		return true
	}
	w := walk{a: s.marks, b: t.marks}
	for w.next() {
		if w.inB() && !w.inA() {
			return false
		}
	}
	return true
}

// combine evaluates f at every marked path of either set; between marks nothing changes.
func combine(s, t Set, f func(a, b bool) bool) Set {
	w := walk{a: s.marks, b: t.marks}
	var open trail
	marks := make([]mark, 0, len(s.marks)+len(t.marks))
	for w.next() {
		in := f(w.inA(), w.inB())
		open.leave(w.path)
		if in != open.in() {
			m := mark{path: w.path, in: in}
			open.enter(m)
			marks = append(marks, m)
		}
	}
	return Set{marks: marks}
}

// walk visits the marked paths of two sets in order, with the state of each set there.
type walk struct {
	a, b   []mark
	path   string
	ta, tb trail
}

func (w *walk) next() bool {
	switch {
	case len(w.a) == 0 && len(w.b) == 0:
		return false
	case len(w.b) == 0 || len(w.a) > 0 && w.a[0].path <= w.b[0].path:
		w.path = w.a[0].path
	default:
		w.path = w.b[0].path
	}
	w.ta.leave(w.path)
	w.tb.leave(w.path)
	if len(w.a) > 0 && w.a[0].path == w.path {
		w.ta.enter(w.a[0])
		w.a = w.a[1:]
	}
	if len(w.b) > 0 && w.b[0].path == w.path {
		w.tb.enter(w.b[0])
		w.b = w.b[1:]
	}
	return true
}

func (w *walk) inA() bool { return w.ta.in() }
func (w *walk) inB() bool { return w.tb.in() }

// trail holds the marks above the present path. Real names are a few levels
// deep; the overflow is there for hostile input.
type trail struct {
	near [6]mark
	more []mark
	n    int
}

func (t *trail) at(i int) mark {
	if i < len(t.near) {
		return t.near[i]
	}
	return t.more[i-len(t.near)]
}

func (t *trail) enter(m mark) {
	if t.n < len(t.near) {
		t.near[t.n] = m
	} else {
		t.more = append(t.more[:t.n-len(t.near)], m)
	}
	t.n++
}

func (t *trail) leave(path string) {
	for t.n > 0 && !beneath(path, t.at(t.n-1).path) {
		t.n--
	}
}

func (t *trail) in() bool { return t.n > 0 && t.at(t.n-1).in }
