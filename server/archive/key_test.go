package archive

import (
	"encoding/base64"
	"errors"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
)

func (s *studio) key(t testing.TB, k *pb.Key, id string) string {
	t.Helper()
	var secret string
	must[*pb.Key](t)(s.CreateKey(t.Context(), owner, k, id, func(given string) error { secret = given; return nil }))
	return secret
}

func TestAuthenticate(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	prepare(t, s)
	secret := s.key(t, &pb.Key{Role: pb.Role_ROLE_PUBLISHER, Party: "parties/client", ExpireTime: timestamppb.New(s.clock.read().Add(time.Hour))}, "press-key")
	k := must[*pb.Key](t)(s.Authenticate(secret))
	if k.GetName() != "keys/press-key" || k.GetRole() != pb.Role_ROLE_PUBLISHER || k.GetParty() != "parties/client" || k.GetSecretSha256() != "" {
		t.Errorf("opened as %v", k)
	}
	_, err := other.Authenticate(secret)
	wantIs(t, err, ErrDenied) // not followed yet
	other.sync(t)
	must[*pb.Key](t)(other.Authenticate(secret))
	id, raw, _ := strings.Cut(secret, ".")
	b := must[[]byte](t)(base64.RawURLEncoding.DecodeString(raw))
	flip := func(i int) string {
		c := append([]byte(nil), b...)
		c[i] ^= 1
		return id + "." + base64.RawURLEncoding.EncodeToString(c)
	}
	for _, wrong := range []string{
		"", ".", id, id + ".", "." + raw, secret + "A", secret[:len(secret)-1], "none-such." + raw, "PRESS-KEY." + raw, id + "." + strings.Repeat("A", 43), flip(0), flip(31),
		id + ".." + raw, id + "." + raw + "." + raw, "keys/" + secret, " " + secret, secret + "\n", id + "." + base64.RawURLEncoding.EncodeToString(b[:31]), "../keys/press-key." + raw,
		id + "." + base64.RawURLEncoding.EncodeToString(append(b, 0)), id + "\x00." + raw, strings.Repeat("a", 1<<16) + "." + raw,
	} {
		_, err := s.Authenticate(wrong)
		wantIs(t, err, ErrDenied)
		if err != nil && err.Error() != ErrDenied.Error() {
			t.Errorf("the refusal of %.40q says %q", wrong, err)
		}
	}
	s.clock.forward(time.Hour - time.Nanosecond)
	must[*pb.Key](t)(s.Authenticate(secret))
	s.clock.forward(time.Nanosecond)
	_, err = s.Authenticate(secret)
	wantIs(t, err, ErrDenied)

	staying := s.key(t, &pb.Key{Role: pb.Role_ROLE_ASSISTANT}, "desk-key")
	must[*pb.Key](t)(s.Authenticate(staying))
	revoked := must[*pb.Key](t)(s.RevokeKey(t.Context(), owner, "keys/desk-key"))
	_, err = s.Authenticate(staying)
	wantIs(t, err, ErrDenied)
	s.clock.forward(time.Minute)
	if again := must[*pb.Key](t)(s.RevokeKey(t.Context(), owner, "keys/desk-key")); !again.GetRevokeTime().AsTime().Equal(revoked.GetRevokeTime().AsTime()) {
		t.Error("revoking twice moves the time")
	}
	_, err = s.RevokeKey(t.Context(), owner, "keys/none-such")
	wantIs(t, err, ErrNotFound)
}

// A key counts only once its secret was handed out, and the last owner's can't be revoked.
func TestOwnersKeys(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	has := func(want bool) {
		t.Helper()
		if got := must[bool](t)(s.HasOwner()); got != want {
			t.Errorf("an owner's key stands: %v; want %v", got, want)
		}
	}
	has(false)
	full := errors.New("disk is full")
	_, err := s.CreateKey(ctx, owner, &pb.Key{Role: pb.Role_ROLE_OWNER}, "lost-one", func(string) error { return full })
	wantIs(t, err, full)
	has(false)
	s.key(t, &pb.Key{Role: pb.Role_ROLE_ASSISTANT}, "desk-key")
	has(false)
	s.key(t, &pb.Key{Role: pb.Role_ROLE_OWNER, ExpireTime: timestamppb.New(s.clock.read().Add(time.Hour))}, "first-key")
	has(true)
	_, err = s.RevokeKey(ctx, owner, "keys/first-key")
	wantIs(t, err, ErrLastOwner)
	s.key(t, &pb.Key{Role: pb.Role_ROLE_OWNER}, "second-key")
	must[*pb.Key](t)(s.RevokeKey(ctx, owner, "keys/first-key"))
	_, err = s.RevokeKey(ctx, owner, "keys/second-key")
	wantIs(t, err, ErrLastOwner)
	must[*pb.Key](t)(s.RevokeKey(ctx, owner, "keys/first-key"))
	s.key(t, &pb.Key{Role: pb.Role_ROLE_OWNER, ExpireTime: timestamppb.New(s.clock.read().Add(time.Hour))}, "third-key")
	must[*pb.Key](t)(s.RevokeKey(ctx, owner, "keys/second-key"))
	s.clock.forward(2 * time.Hour)
	has(false) // so that the next start makes one
	list, _, err := s.ListKeys("", 10)
	if err != nil || len(list) != 4 {
		t.Errorf("%d keys, %v", len(list), err)
	}
	for _, k := range list {
		if k.GetSecretSha256() != "" {
			t.Errorf("list shows the hash of %s", k.GetName())
		}
	}
}
