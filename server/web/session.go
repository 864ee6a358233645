package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net/http"
	"strings"
	"sync"
	"time"

	pb "platarium/proto/platarium/v1"
)

// A session ends when it wasn't used for idleFor, and at the latest after longest.
const (
	idleFor     = 12 * time.Hour
	longest     = 7 * 24 * time.Hour
	mostByKey   = 20 // sessions of one key: the oldest goes first
	cookieName  = "platarium_session"
	tokenField  = "token"
	tokenHeader = "X-Platarium-Token"
)

// session is one browser that signed in. The key's secret stays in this process: the browser has a random number that stands for it.
type session struct {
	secret string // of the key
	token  string // that forms carry
	key    string // id of the key
	role   pb.Role
	party  string
	begun  time.Time
	used   time.Time
}

// sessions are kept in memory: whoever restarts the server signs in again. They are found by the hash of the cookie.
type sessions struct {
	mu  sync.Mutex
	all map[string]*session
	now func() time.Time
}

func newSessions(now func() time.Time) *sessions {
	return &sessions{all: map[string]*session{}, now: now}
}

func randomHex() string {
	var b [32]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

func hashed(cookie string) string {
	sum := sha256.Sum256([]byte(cookie))
	return hex.EncodeToString(sum[:])
}

// begin makes a session and returns its cookie's value.
func (s *sessions) begin(secret string, who *pb.Status) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.now()
	oldest, same := "", 0
	for id, old := range s.all {
		if over(old, now) {
			delete(s.all, id)
			continue
		}
		if old.key == who.GetKey() {
			same++
			if oldest == "" || old.used.Before(s.all[oldest].used) {
				oldest = id
			}
		}
	}
	if same >= mostByKey {
		delete(s.all, oldest)
	}
	cookie := randomHex()
	s.all[hashed(cookie)] = &session{secret: secret, token: randomHex(), key: who.GetKey(), role: who.GetRole(), party: who.GetParty(), begun: now, used: now}
	return cookie
}

func over(s *session, now time.Time) bool {
	return now.Sub(s.used) > idleFor || now.Sub(s.begun) > longest
}

// of finds the session of a request; nil if there is none.
func (s *sessions) of(r *http.Request) *session {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	id := hashed(c.Value)
	found := s.all[id]
	if found == nil {
		return nil
	}
	now := s.now()
	if over(found, now) {
		delete(s.all, id)
		return nil
	}
	found.used = now
	copied := *found
	return &copied
}

func (s *sessions) end(r *http.Request) {
	if c, err := r.Cookie(cookieName); err == nil {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.all, hashed(c.Value))
	}
}

// cookie is what the browser keeps; an empty value takes it back.
func (s *Site) cookie(value string) *http.Cookie {
	c := &http.Cookie{Name: cookieName, Value: value, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: s.conf.Secure, MaxAge: int(longest.Seconds())}
	if value == "" {
		c.MaxAge = -1
	}
	return c
}

// hasToken says whether a request carries the token of its session.
func (s *session) hasToken(r *http.Request) bool {
	given := r.Header.Get(tokenHeader)
	if given == "" {
		given = r.PostFormValue(tokenField)
	}
	return s.sameToken(given)
}

func (s *session) sameToken(given string) bool {
	return subtle.ConstantTimeCompare([]byte(given), []byte(s.token)) == 1
}

// Secret is the key's secret of whoever made a request: that of its session, or of its authorization header; empty if it shows none.
func (s *Site) Secret(r *http.Request) string {
	if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return bearer
	}
	if found := s.sessions.of(r); found != nil {
		return found.secret
	}
	return ""
}
