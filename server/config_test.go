package server

import (
	"path/filepath"
	"strings"
	"testing"
)

func TestValidate(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Config)
		wrong  string // what the error speaks of; empty where all is right
	}{
		"as it is":                  {func(*Config) {}, ""},
		"no store":                  {func(c *Config) { c.Store = "" }, "store is missing"},
		"listen without port":       {func(c *Config) { c.Listen = "127.0.0.1" }, "listen"},
		"listen is words":           {func(c *Config) { c.Listen = "somewhere nice" }, "listen"},
		"loopback, version 6":       {func(c *Config) { c.Listen = "[::1]:0" }, ""},
		"localhost":                 {func(c *Config) { c.Listen = "localhost:0" }, ""},
		"another loopback":          {func(c *Config) { c.Listen = "127.8.9.1:0" }, ""},
		"everywhere, in the clear":  {func(c *Config) { c.Listen = "0.0.0.0:0" }, "in the clear"},
		"every interface":           {func(c *Config) { c.Listen = ":7411" }, "in the clear"},
		"every interface, 6":        {func(c *Config) { c.Listen = "[::]:7411" }, "in the clear"},
		"a name":                    {func(c *Config) { c.Listen = "localhost.example:0" }, "in the clear"},
		"a private network":         {func(c *Config) { c.Listen = "192.168.1.2:0" }, "in the clear"},
		"in the clear, and says so": {func(c *Config) { c.Listen, c.PlainText = "0.0.0.0:0", true }, ""},
		"with TLS":                  {func(c *Config) { c.Listen, c.CertFile, c.KeyPEM = "0.0.0.0:0", "cert.pem", "key.pem" }, ""},
		"certificate alone":         {func(c *Config) { c.CertFile = "cert.pem" }, "private key"},
		"key alone":                 {func(c *Config) { c.KeyPEM = "key.pem" }, "certificate"},
		"time zone":                 {func(c *Config) { c.TimeZone = "Europe/Vienna" }, ""},
		"no time zone":              {func(c *Config) { c.TimeZone = "Atlantis/Center" }, "time zone"},
	} {
		conf := Config{Store: "dir:/somewhere", Cache: "/elsewhere"}
		c.change(&conf)
		err := conf.Validate()
		if (err == nil) != (c.wrong == "") || err != nil && !strings.Contains(err.Error(), c.wrong) {
			t.Errorf("%s: %v; want an error that speaks of %q", name, err, c.wrong)
		}
		if err == nil && (conf.Logger == nil || conf.Clock == nil) {
			t.Errorf("%s: defaults are missing", name)
		}
	}
	several := Config{Listen: "x", TimeZone: "y", CertFile: "z"}
	if err := several.Validate(); err == nil || strings.Count(err.Error(), "\n") < 3 {
		t.Errorf("not all that is wrong is said: %v", err)
	}
}

func TestDefaults(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	one, two := Config{Store: "dir:/one"}, Config{Store: "dir:/two"}
	for _, c := range []*Config{&one, &two} {
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		if c.Listen != DefaultListen || !c.Reflection || !filepath.IsAbs(c.Cache) {
			t.Errorf("defaults of %s: %+v", c.Store, c)
		}
	}
	if one.Cache == two.Cache {
		t.Errorf("two archives share the cache %s", one.Cache)
	}
	far := Config{Store: "dir:/one", Listen: "0.0.0.0:1", PlainText: true}
	if err := far.Validate(); err != nil || far.Reflection {
		t.Errorf("beyond loopback reflection is %v, %v", far.Reflection, err)
	}
}
