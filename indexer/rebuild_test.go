package indexer

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
)

// TestRebuildBeside searches and changes while the index is made anew.
func TestRebuildBeside(t *testing.T) {
	t.Parallel()
	s := newStudio(t)
	y := newSynthetic(t, s, 41)
	s.put(y.pictures(230)...)
	x := s.open(t)
	done := make(chan struct{})
	var wg sync.WaitGroup
	wg.Add(1)
	go func() {
		defer wg.Done()
		for {
			select {
			case <-done:
				return
			case <-time.After(5 * time.Millisecond):
			}
			a, err := x.Search(context.Background(), Query{Request: &pb.SearchPicturesRequest{Text: y.words[0]}})
			if err != nil || a.Total == 0 {
				t.Errorf("search meanwhile: %v", err)
				return
			}
		}
	}()
	steps := 0
	err := x.Rebuild(context.Background(), func(_, total int64) {
		steps++
		if total < 230 {
			t.Errorf("total %d", total)
		}
		// Changes of every kind come while the build is on its way.
		seq, names := s.put(&pb.Picture{Name: fmt.Sprintf("pictures/new-%d", steps), Title: "meanwhile"}, y.picture(steps))
		apply(t, x, seq, names)
		seq, names = s.remove(fmt.Sprintf("pictures/p%07d", 100+steps))
		apply(t, x, seq, names)
	})
	close(done)
	wg.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if steps < 3 || x.Sequence() != s.seq {
		t.Errorf("%d steps, sequence %d of %d", steps, x.Sequence(), s.seq)
	}
	if got := foundBy(t, x, "meanwhile"); len(got) != steps {
		t.Errorf("%d of %d pictures added meanwhile", len(got), steps)
	}
	sameAs(t, x, s)
	if folders, _ := filepath.Glob(filepath.Join(x.dir, "generation-*")); len(folders) != 1 {
		t.Errorf("folders left: %v", folders)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := x.Rebuild(ctx, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("canceled rebuild: %v", err)
	}
	if got := foundBy(t, x, "meanwhile"); len(got) != steps {
		t.Errorf("%d of %d after a canceled rebuild", len(got), steps)
	}
}

// TestManyAtOnce searches from many sides while commits come in; a commit is
// seen whole or not at all.
func TestManyAtOnce(t *testing.T) {
	t.Parallel()
	s := newRecords(t)
	x := s.open(t)
	var pair []*pb.Picture
	for i := range 250 { // more than one batch of bleve's
		pair = append(pair, &pb.Picture{Name: fmt.Sprintf("pictures/pair-%d", i), Title: "state zero"})
	}
	apply2(t, x, s, pair)
	done := make(chan struct{})
	var wg sync.WaitGroup
	for range 3 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for {
				select {
				case <-done:
					return
				case <-time.After(time.Millisecond):
				}
				a, err := x.Search(context.Background(), Query{Request: &pb.SearchPicturesRequest{Text: "state zero "}})
				if err != nil || a.Total != 0 && a.Total != int64(len(pair)) {
					t.Errorf("%d of %d, %v", a.Total, len(pair), err)
					return
				}
			}
		}()
	}
	for i := range 4 {
		title := "state zero"
		if i%2 == 0 {
			title = "state one"
		}
		var next []*pb.Picture
		for _, p := range pair {
			next = append(next, &pb.Picture{Name: p.GetName(), Title: title})
		}
		apply2(t, x, s, next)
	}
	close(done)
	wg.Wait()
}
