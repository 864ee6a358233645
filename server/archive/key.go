package archive

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// ErrDenied: the secret opens nothing: unknown, expired or revoked. The caller asks the owner for a key.
var ErrDenied = errors.New("key is unknown, expired or revoked")

// secretSize is the randomness in a key, bytes (256 bits).
const secretSize = 32

// CreateKey makes a key. The secret is returned once and only its hash is stored. It reads {id}.{secret in base64url}.
func (a *Archive) CreateKey(ctx context.Context, by Caller, k *pb.Key, id string) (*pb.Key, string, error) {
	name, err := a.newName(Keys, id)
	if err != nil {
		return nil, "", err
	}
	secret := make([]byte, secretSize)
	if _, err := rand.Read(secret); err != nil {
		return nil, "", err
	}
	sum := sha256.Sum256(secret)
	next := proto.Clone(k).(*pb.Key)
	clearOwned(next, map[string]bool{"revoke_time": true})
	next.SecretSha256 = hex.EncodeToString(sum[:])
	made, err := first[*pb.Key](a.submit(ctx, "CreateKey", by, []proto.Message{next}, func(v *View) error {
		if err := v.validKey(next); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Key), name)
	}))
	if err != nil {
		return nil, "", err
	}
	return withoutSecret(made), strings.TrimPrefix(name, Keys+"/") + "." + base64.RawURLEncoding.EncodeToString(secret), nil
}

func (v *View) validKey(k *pb.Key) error {
	var c checks
	c.text("display_name", k.GetDisplayName(), maxTitle)
	c.known("role", int32(k.GetRole()), pb.Role_name)
	switch k.GetRole() {
	case pb.Role_ROLE_UNSPECIFIED:
		c.add("role", "is missing; want owner, assistant or publisher")
	case pb.Role_ROLE_PUBLISHER:
		if err := v.mustExist(&c, "party", k.GetParty(), Parties, true); err != nil {
			return err
		}
	default:
		if k.GetParty() != "" {
			c.add("party", "found %q; only a publisher's key belongs to a party", k.GetParty())
		}
	}
	if t := k.GetExpireTime(); t != nil && !t.AsTime().After(v.now) {
		c.add("expire_time", "found %s, which is past", t.AsTime().Format("2006-01-02 15:04:05Z"))
	}
	return c.err()
}

// RevokeKey ends a key at once.
func (a *Archive) RevokeKey(ctx context.Context, by Caller, name string) (*pb.Key, error) {
	k, err := first[*pb.Key](a.submit(ctx, "RevokeKey", by, []proto.Message{&pb.RevokeKeyRequest{Name: name}}, func(v *View) error {
		old, ok, err := record[*pb.Key](v, name)
		if err != nil {
			return err
		}
		if !ok {
			return wrapName(ErrNotFound, name)
		}
		next := proto.Clone(old).(*pb.Key)
		if next.RevokeTime == nil {
			next.RevokeTime = v.timestamp()
		}
		return v.replace(next, old)
	}))
	if err != nil {
		return nil, err
	}
	return withoutSecret(k), nil
}

// Authenticate returns the key that a secret belongs to, or ErrDenied. The comparison takes the same time whatever differs.
func (a *Archive) Authenticate(secret string) (*pb.Key, error) {
	id, rest, ok := strings.Cut(secret, ".")
	raw, err := base64.RawURLEncoding.DecodeString(rest)
	if !ok || err != nil || len(raw) != secretSize || !plainID.MatchString(id) {
		return nil, ErrDenied
	}
	k, err := get[*pb.Key](a, Keys+"/"+id)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, fmt.Errorf("look up a key: %w", err)
	}
	sum := sha256.Sum256(raw)
	want, err := hex.DecodeString(k.GetSecretSha256())
	if err != nil || subtle.ConstantTimeCompare(sum[:], want) != 1 {
		return nil, ErrDenied
	}
	if k.GetRevokeTime() != nil || k.GetExpireTime() != nil && !k.GetExpireTime().AsTime().After(a.now()) {
		return nil, ErrDenied
	}
	return withoutSecret(k), nil
}

// HasKeys tells whether any key was ever made.
func (a *Archive) HasKeys() (bool, error) {
	n, err := a.Count(Keys)
	return n > 0, err
}

func withoutSecret(k *pb.Key) *pb.Key {
	k = proto.Clone(k).(*pb.Key)
	k.SecretSha256 = ""
	return k
}
