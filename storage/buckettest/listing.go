package buckettest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"golang.org/x/sync/errgroup"

	"platarium/storage"
)

// listed keys sort otherwise by folders, or without regard to case, than by bytes.
var listed = []string{
	"a-b", "a.b", "a/b", "a/b-c/d", "a/b.c", "a/c/d/e", "a/c0", "a0", "a=", "aA", "aB/c", "a_", "ab", "ab-c/x", "abc/x", "b/1", "b/10", "b/2",
	"journal/00000000000000000001.json", "journal/00000000000000000002.json", "journal/00000000000000000010.json",
}

func testListOrder(t *testing.T, b storage.Bucket) {
	ctx := t.Context()
	if keys, err := list(ctx, b, "", ""); err != nil || len(keys) != 0 {
		t.Fatalf("an empty bucket lists %v, %v", keys, err)
	}
	for i, key := range listed {
		put(t, b, key, make([]byte, i))
	}
	marks := append([]string{"", "a", "a/", "a/b-c", "a/c", "a/c/", "a/c/d/", "a~", "b/", "b/1", "nothing", "z", "journal/0000000000000000000", "!"}, listed...)
	for _, prefix := range marks {
		if storage.CheckPrefix(prefix) != nil {
			continue
		}
		for _, after := range marks {
			got, err := list(ctx, b, prefix, after)
			if want := expected(listed, prefix, after); err != nil || !slices.Equal(got, want) {
				t.Fatalf("prefix %q after %q: found %v (%v), want %v", prefix, after, got, err, want)
			}
		}
	}
	for info, err := range b.List(ctx, "", "") {
		if err != nil {
			t.Fatal(err)
		}
		if i := slices.Index(listed, info.Key); info.Size != int64(i) || info.Modified.IsZero() {
			t.Errorf("found %+v, want %d bytes", info, i)
		}
	}
}

func expected(keys []string, prefix, after string) (want []string) {
	for _, key := range keys {
		if strings.HasPrefix(key, prefix) && key > after {
			want = append(want, key)
		}
	}
	slices.Sort(want)
	return want
}

// testListMany goes beyond the page of 1,000 that object stores give at once.
func testListMany(t *testing.T, b storage.Bucket) {
	const count = 1203
	var g errgroup.Group
	g.SetLimit(16)
	want := make([]string, count)
	for i := range want {
		want[i] = fmt.Sprintf("many/%05d", i)
		if i%7 == 3 {
			want[i] = fmt.Sprintf("many/%05d/below.json", i)
		}
		g.Go(func() error { return b.Put(t.Context(), want[i], strings.NewReader("x"), 1, nil) })
	}
	if err := g.Wait(); err != nil {
		t.Fatal(err)
	}
	put(t, b, "manz", nil)
	put(t, b, "man", nil)
	for _, after := range []string{"", want[0], want[998], want[999], want[1000], want[1100], want[count-1]} {
		got, err := list(t.Context(), b, "many/", after)
		if w := expected(want, "many/", after); err != nil || !slices.Equal(got, w) {
			t.Errorf("after %q: found %d keys (%v), want %d in order", after, len(got), err, len(w))
		}
	}
	for _, stop := range []int{1, 999, 1000, 1001} {
		var got []string
		for info, err := range b.List(t.Context(), "many/", "") {
			if err != nil {
				t.Fatal(err)
			}
			if got = append(got, info.Key); len(got) == stop {
				break
			}
		}
		if !slices.Equal(got, want[:stop]) {
			t.Errorf("stopped after %d: found %d keys", stop, len(got))
		}
	}
}
