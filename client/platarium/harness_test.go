package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platarium/client"
	"platarium/server"
	"platarium/storage/imaging"
)

// TestMain hands the decode child over, as main does, and ends what all tests share.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == imaging.ChildVerb {
		os.Exit(imaging.ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	code := m.Run()
	closeAll()
	os.Exit(code)
}

// running is a server in this process.
type running struct {
	conf    server.Config
	address string
	pages   string
	secret  string
	owner   *client.Client
	stop    func()
}

// newConfig is a server over a directory that the test leaves behind for nobody.
func newConfig(t testing.TB) server.Config {
	t.Helper()
	dir := t.TempDir()
	return server.Config{Store: "dir:" + filepath.Join(dir, "store"), Cache: filepath.Join(dir, "cache"), Listen: "127.0.0.1:0", KeyFile: filepath.Join(dir, "owner.key")}
}

// start runs a server and waits until it answers; it is stopped at the test's end, if not before.
func start(t testing.TB, conf server.Config) *running {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready := make(chan server.Ready, 1)
	done := make(chan error, 1)
	go func() { done <- server.Run(ctx, conf, func(r server.Ready) { ready <- r }) }()
	r := &running{conf: conf}
	stopped := false
	r.stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		if err := <-done; err != nil {
			t.Errorf("server ended with %v", err)
		}
	}
	t.Cleanup(r.stop)
	select {
	case news := <-ready:
		b, err := os.ReadFile(conf.KeyFile)
		if err != nil {
			t.Fatal(err)
		}
		r.secret, r.address, r.pages = strings.TrimSpace(string(b)), news.Address, news.Pages
		r.owner = dial(t, r.address, r.secret)
	case err := <-done:
		t.Fatalf("server didn't start: %v", err)
	}
	return r
}

func dial(t testing.TB, address, key string) *client.Client {
	t.Helper()
	c, err := client.Dial(client.Config{Address: address, Key: key})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}
