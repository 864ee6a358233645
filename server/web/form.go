package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// form is a form as it is shown: what was typed into it, and what is wrong with which of its fields. One that was refused is shown again with both.
type form struct {
	Token string
	Wrong []string // what belongs to no field
	typed url.Values
	wrong map[string]string
	noted map[string]bool // fields whose fault is shown beside them
}

// blank is a form that shows values which nobody has typed yet.
func (v *visit) blank(values url.Values) *form {
	return &form{Token: v.token, typed: values, wrong: map[string]string{}, noted: map[string]bool{}}
}

// sent is the form that this request carries.
func (v *visit) sent() *form {
	_ = v.r.ParseForm() // what can't be read is as good as empty, and the fields' own checks say so
	return v.blank(v.r.PostForm)
}

// Value is what stands in a field.
func (f *form) Value(name string) string { return strings.TrimSpace(f.typed.Get(name)) }

// values are those of a field that is there several times, without the empty ones.
func (f *form) values(name string) []string {
	var out []string
	for _, s := range f.typed[name] {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// Has says whether a field has a value.
func (f *form) Has(name, value string) bool {
	for _, s := range f.typed[name] {
		if strings.TrimSpace(s) == value {
			return true
		}
	}
	return false
}

// blame says what is wrong with a field.
func (f *form) blame(name, text string) {
	if old := f.wrong[name]; old != "" {
		text = old + "; " + text
	}
	f.wrong[name] = text
}

// Faults says whether anything is wrong.
func (f *form) Faults() bool { return len(f.wrong)+len(f.Wrong) > 0 }

// decimal reads a number, with a point or a comma; 0 if the field is empty.
func (f *form) decimal(name, want string) float64 {
	s := f.Value(name)
	if s == "" {
		return 0
	}
	x, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || x < 0 || x > 1e9 { // NaN is above nothing, and caught by the services
		f.blame(name, "found "+strconv.Quote(s)+"; want "+want)
		return 0
	}
	return x
}

// whole reads a whole number; 0 if the field is empty.
func (f *form) whole(name, want string) int64 {
	s := f.Value(name)
	if s == "" {
		return 0
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 {
		f.blame(name, "found "+strconv.Quote(s)+"; want "+want)
		return 0
	}
	return n
}

// refused takes in why a service refused what was typed; it returns an error that has nothing to do with the form. Fields of the contract are found in the form by at: the field itself, or one that
// it is part of.
func (f *form) refused(err error, at map[string]string) error {
	st := status.Convert(err)
	switch st.Code() {
	case codes.OK:
		return nil
	case codes.InvalidArgument, codes.FailedPrecondition, codes.AlreadyExists, codes.Aborted, codes.OutOfRange:
	default:
		return err
	}
	found := false
	for _, d := range st.Details() {
		bad, ok := d.(*errdetails.BadRequest)
		if !ok {
			continue
		}
		for _, violation := range bad.GetFieldViolations() {
			found = true
			if field := fieldAt(violation.GetField(), at); field != "" {
				f.blame(field, violation.GetDescription())
			} else {
				f.Wrong = append(f.Wrong, violation.GetField()+": "+violation.GetDescription())
			}
		}
	}
	if !found {
		f.Wrong = append(f.Wrong, st.Message())
	}
	return nil
}

// fieldAt finds the form's field of a path such as scope.media[2], by the path, without its index, and by what it is part of.
func fieldAt(path string, at map[string]string) string {
	for path != "" {
		if field, ok := at[path]; ok {
			return field
		}
		cut := max(strings.LastIndexByte(path, '['), strings.LastIndexByte(path, '.'))
		if cut < 0 {
			return ""
		}
		path = path[:cut]
	}
	return ""
}

// input is one field of a form.
type input struct {
	ID, Label, Hint, Value, Wrong string
	Kind                          string // text, long, date, choice or tick
	Size                          int    // characters wide
	Options                       []option
	Ticked                        bool
}

// option is one value to choose.
type option struct {
	Value, Label string
	Chosen       bool
}

func (f *form) input(kind, name, label, hint string, size int) input {
	f.noted[name] = true
	return input{ID: name, Label: label, Hint: hint, Value: f.typed.Get(name), Wrong: f.wrong[name], Kind: kind, Size: size}
}

// Text is a line to type.
func (f *form) Text(name, label, hint string, size int) input {
	return f.input("text", name, label, hint, size)
}

// Long is several lines to type.
func (f *form) Long(name, label, hint string) input { return f.input("long", name, label, hint, 0) }

// Day is a date.
func (f *form) Day(name, label, hint string) input { return f.input("date", name, label, hint, 0) }

// Tick is a box to tick.
func (f *form) Tick(name, label, hint string) input {
	in := f.input("tick", name, label, hint, 0)
	in.Ticked = in.Value != ""
	return in
}

// Choice is one of several values; none is the label of choosing none of them, empty if one must be chosen.
func (f *form) Choice(name, label, none string, options []option) input {
	in := f.input("choice", name, label, "", 0)
	if none != "" && !slices.ContainsFunc(options, func(o option) bool { return o.Label == none }) { // else that one stands first, and is as good as none
		in.Options = append(in.Options, option{"", none, in.Value == ""})
	}
	known := in.Value == ""
	for _, o := range options {
		o.Chosen = o.Value == in.Value
		known = known || o.Chosen
		in.Options = append(in.Options, o)
	}
	if !known { // keep what was typed or kept, whatever it is
		in.Options = append(in.Options, option{in.Value, in.Value, true})
	}
	return in
}

// Elsewhere lists faults of fields that haven't been shown with them; a template shows it after all fields.
func (f *form) Elsewhere() []string {
	var out []string
	for name, text := range f.wrong {
		if !f.noted[name] {
			out = append(out, text)
		}
	}
	return out
}

// chosen lists the words of an enum as options.
func chosen[E enum]() []option {
	var out []option
	for _, w := range words[E]() {
		out = append(out, option{Value: w, Label: w})
	}
	return out
}
