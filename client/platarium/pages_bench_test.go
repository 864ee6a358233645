package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
)

// BenchmarkPages asks an archive of 100,000 pictures (or PICTURES) for pages as a browser does: finds of a commission, and pictures. It reports the 95th percentile from asking to the last byte.
func BenchmarkPages(b *testing.B) {
	n := 100_000
	if s := os.Getenv("PICTURES"); s != "" {
		n, _ = strconv.Atoi(s)
	}
	conf := newConfig(b)
	conf.Pages = "127.0.0.1:0"
	r := start(b, conf)
	species := someSpecies(b, 600)
	fillArchive(b, r.owner, n, species)
	list, err := r.owner.Archive.ListPictures(b.Context(), &pb.ListPicturesRequest{PageSize: 500})
	if err != nil {
		b.Fatal(err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		b.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	res, err := c.PostForm(r.pages+"/signin", url.Values{"key": {r.secret}})
	if err != nil {
		b.Fatal(err)
	}
	if err := res.Body.Close(); err != nil || res.Request.URL.Path != "/search" {
		b.Fatalf("signing in led to %v, %v", res.Request.URL, err)
	}
	rnd := rand.New(rand.NewPCG(5, 6))
	for name, path := range map[string]func() string{
		"search": func() string {
			q := question(rnd, species, nil)
			v := url.Values{"q": {q.GetText()}, "near": {q.GetWanted().GetNear()}, "counts": {q.GetWanted().GetCounts()}, "structures": {strings.Join(q.GetWanted().GetStructures(), ", ")}, "view": {"left lateral"}}
			return "/search?" + v.Encode()
		},
		"picture": func() string { return "/" + list.GetPictures()[rnd.IntN(len(list.GetPictures()))].GetName() },
	} {
		b.Run("page="+name, func(b *testing.B) {
			var took []time.Duration
			for b.Loop() {
				address := r.pages + path()
				began := time.Now()
				res, err := c.Get(address)
				if err != nil {
					b.Fatal(err)
				}
				_, err = io.Copy(io.Discard, res.Body)
				if err := fmt.Sprint(err, res.Body.Close()); res.StatusCode != http.StatusOK || err != "<nil> <nil>" {
					b.Fatal(res.Status, err)
				}
				took = append(took, time.Since(began))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}
