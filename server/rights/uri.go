package rights

import (
	"net/url"
	"strings"
)

// Hosts of rights statements, and the form in which their URIs are kept: as their makers write them.
const (
	ccHost         = "creativecommons.org"
	statementsHost = "rightsstatements.org"
	// PublicLicences begins the URI of every licence and dedication of Creative Commons.
	PublicLicences = "https://" + ccHost + "/"
	statementsForm = "http://" + statementsHost + "/"
)

// CanonicalURI writes the URI of a rights statement or public licence in one form, whichever way it was given: with http or https, with or without a slash at the end, as the page
// for people (deed, legalcode, page) or not. What it doesn't know stays as it is.
func CanonicalURI(s string) string {
	u, err := url.Parse(strings.TrimSpace(s))
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.User != nil || u.Port() != "" {
		return s
	}
	var parts []string
	for part := range strings.SplitSeq(u.Path, "/") {
		if part != "" {
			parts = append(parts, part)
		}
	}
	switch strings.TrimPrefix(strings.ToLower(u.Hostname()), "www.") {
	case ccHost:
		return canonicalLicence(parts, s)
	case statementsHost:
		if len(parts) != 3 || parts[0] != "vocab" && parts[0] != "page" && parts[0] != "data" {
			return s
		}
		return statementsForm + "vocab/" + parts[1] + "/" + parts[2] + "/"
	default:
		return s
	}
}

// pages are the forms in which a licence is shown.
var pages = map[string]bool{"deed": true, "legalcode": true, "rdf": true}

// canonicalLicence writes a licence of Creative Commons: licenses/elements/version, with the country of a ported one; or a dedication below publicdomain.
func canonicalLicence(parts []string, s string) string {
	for i := range parts {
		parts[i] = strings.ToLower(parts[i])
	}
	for len(parts) > 3 && pages[strings.SplitN(parts[len(parts)-1], ".", 2)[0]] { // deed, deed.de, legalcode, legalcode.txt
		parts = parts[:len(parts)-1]
	}
	if len(parts) < 3 || len(parts) > 4 || parts[0] != "licenses" && parts[0] != "publicdomain" {
		return s
	}
	return PublicLicences + strings.Join(parts, "/") + "/"
}

// IsPublicLicence says whether a rights statement lets everybody use a picture: a licence or dedication of Creative Commons. Its public domain mark is no licence,
// but says the same.
func IsPublicLicence(s string) bool { return strings.HasPrefix(CanonicalURI(s), PublicLicences) }
