package server

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"platarium/server/web"
	"platarium/storage/imaging"
)

// Defaults of a server.
const (
	DefaultListen = "127.0.0.1:7411"
	DefaultPages  = "127.0.0.1:7412"
	followEvery   = 2 * time.Second  // how often the journal is asked for others' commits
	cleanEvery    = 6 * time.Hour    // how often what nobody needs any more is destroyed
	graceTime     = 20 * time.Second // for calls under way when the server is told to stop
)

// Config says where an archive is and how it is served.
type Config struct {
	Store      string // URL of the bucket: dir:PATH or s3://bucket?...
	Cache      string // folder of local state; nothing in it is lost when it is deleted
	Listen     string // host:port of gRPC; DefaultListen if empty
	Pages      string // host:port of pages and everything else over HTTP; none if empty
	Studio     string // name of the house, shown on its pages
	GuestKey   string // file with the secret of the key as which whoever shows none sees pictures by IIIF; empty for nobody
	KeyFile    string // where an owner's key is written when the archive has none that stands; must not exist then
	CertFile   string // TLS certificate; empty for plain text, on loopback only
	KeyPEM     string // TLS private key
	PlainText  bool   // allow plain text beyond loopback
	Reflection bool   // serve gRPC reflection beyond loopback
	TimeZone   string // the studio's calendar, such as Europe/Vienna; UTC if empty
	Workers    int    // previews made at once; 1 if 0
	Decoders   imaging.Decoders
	Limits     imaging.Limits // of one picture; DefaultLimits if zero
	Version    string
	Importer   func(inside func(context.Context) (net.Conn, error)) web.Importer // makes what brings files in by the pages, over connections inside this process; nil for none
	Logger     *slog.Logger
	Clock      func() time.Time
}

// Validate fills what is left out and says what is wrong, and what would be right.
func (c *Config) Validate() error {
	var errs []error
	if c.Store == "" {
		errs = append(errs, errors.New("store is missing; want dir:PATH or s3://bucket?endpoint=https://host&region=r"))
	}
	if c.Cache == "" {
		base, err := os.UserCacheDir()
		if err != nil {
			errs = append(errs, fmt.Errorf("cache folder is missing and the system names none: %w", err))
		}
		sum := sha256.Sum256([]byte(c.Store)) // each archive has a cache of its own
		c.Cache = filepath.Join(base, "platarium", fmt.Sprintf("server-%x", sum[:6]))
	}
	if c.Listen == "" {
		c.Listen = DefaultListen
	}
	if (c.CertFile == "") != (c.KeyPEM == "") {
		errs = append(errs, errors.New("TLS needs both a certificate and its private key"))
	}
	loopback := c.guarded("listen", c.Listen, &errs)
	if c.Pages != "" {
		c.guarded("pages", c.Pages, &errs)
	}
	if c.Studio == "" {
		c.Studio = "Platarium"
	}
	c.Reflection = c.Reflection || loopback
	if _, err := time.LoadLocation(c.TimeZone); err != nil {
		errs = append(errs, fmt.Errorf("time zone: found %q; want a name such as Europe/Vienna: %w", c.TimeZone, err))
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Clock == nil {
		c.Clock = time.Now
	}
	return errors.Join(errs...)
}

// guarded says whether an address can be reached from this machine only, and refuses one that can be reached from others in the clear.
func (c *Config) guarded(what, address string, errs *[]error) bool {
	loopback, err := isLoopback(address)
	switch {
	case err != nil:
		*errs = append(*errs, fmt.Errorf("%s: found %q; want host:port: %w", what, address, err))
	case !loopback && c.CertFile == "" && !c.PlainText:
		*errs = append(*errs, fmt.Errorf("%s is not a loopback address and there is no TLS certificate: keys and pictures would travel in the clear; give a certificate and key, or say explicitly that plain text is wanted", address))
	}
	return loopback
}

// isLoopback says whether an address can be reached from this machine only. A host name is looked up nowhere: only localhost counts.
func isLoopback(listen string) (bool, error) {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false, err
	}
	if host == "localhost" {
		return true, nil
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback(), nil
}
