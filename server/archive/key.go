package archive

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// ErrDenied: the secret opens nothing: unknown, expired or revoked. The caller asks the owner for a key.
var ErrDenied = errors.New("key is unknown, expired or revoked")

// ErrLastOwner: the key is the last owner's. The caller makes another owner's key first.
var ErrLastOwner = errors.New("the last owner's key can't be revoked; make another first")

// secretSize is the randomness in a key, bytes (256 bits).
const secretSize = 32

// CreateKey makes a key. Deliver gets its secret before the key counts, so that no key stands whose secret nobody has; only a hash is stored. The secret
// reads {id}.{32 random bytes in base64url}.
func (a *Archive) CreateKey(ctx context.Context, by Caller, k *pb.Key, id string, deliver func(secret string) error) (*pb.Key, error) {
	name, err := a.newName(Keys, id)
	if err != nil {
		return nil, err
	}
	secret := make([]byte, secretSize)
	if _, err := rand.Read(secret); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(secret)
	next := proto.Clone(k).(*pb.Key)
	clearOwned(next, map[string]bool{"revoke_time": true})
	next.SecretSha256 = hex.EncodeToString(sum[:])
	if err := deliver(strings.TrimPrefix(name, Keys+"/") + "." + base64.RawURLEncoding.EncodeToString(secret)); err != nil {
		return nil, fmt.Errorf("hand out the secret: %w", err)
	}
	made, err := first[*pb.Key](a.submit(ctx, "CreateKey", by, []proto.Message{next}, func(v *View) error {
		if err := v.validKey(next); err != nil {
			return err
		}
		return v.create(proto.Clone(next).(*pb.Key), name)
	}))
	if err != nil {
		return nil, err
	}
	return withoutSecret(made), nil
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

// RevokeKey ends a key at once. The last owner's key stays: without it nobody could make another.
func (a *Archive) RevokeKey(ctx context.Context, by Caller, name string) (*pb.Key, error) {
	k, err := first[*pb.Key](a.submit(ctx, "RevokeKey", by, []proto.Message{&pb.RevokeKeyRequest{Name: name}}, func(v *View) error {
		old, ok, err := record[*pb.Key](v, name)
		if err != nil {
			return err
		}
		if !ok {
			return wrapName(ErrNotFound, name)
		}
		if opens(old, v.now) && old.GetRole() == pb.Role_ROLE_OWNER {
			if others, err := v.state.owners(v.now, name); err != nil || !others {
				return cmp.Or(err, ErrLastOwner)
			}
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

// opens says whether a key stands at an instant.
func opens(k *pb.Key, at time.Time) bool {
	return k.GetRevokeTime() == nil && (k.GetExpireTime() == nil || k.GetExpireTime().AsTime().After(at))
}

// owners says whether an owner's key stands, other than one.
func (s state) owners(at time.Time, but string) (bool, error) {
	prefix := []byte(Keys + "/")
	c := s.bucket(recordBucket).Cursor()
	for name, v := c.Seek(prefix); bytes.HasPrefix(name, prefix); name, v = c.Next() {
		change := new(pb.Change)
		if err := proto.Unmarshal(v, change); err != nil {
			return false, fmt.Errorf("read %s from the local store: %w", name, err)
		}
		if k := change.GetKey(); k.GetName() != but && k.GetRole() == pb.Role_ROLE_OWNER && opens(k, at) {
			return true, nil
		}
	}
	return false, nil
}

// Authenticate returns the key that a secret belongs to, or ErrDenied. The comparison takes the same time whatever differs.
func (a *Archive) Authenticate(secret string) (*pb.Key, error) {
	id, rest, ok := strings.Cut(secret, ".")
	raw, err := base64.RawURLEncoding.DecodeString(rest)
	// The decoder passes over line ends and spare bits; a secret is written in one way.
	if !ok || err != nil || len(raw) != secretSize || base64.RawURLEncoding.EncodeToString(raw) != rest || !plainID.MatchString(id) {
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
	if !opens(k, a.now()) {
		return nil, ErrDenied
	}
	return withoutSecret(k), nil
}

// HasOwner tells whether an owner's key stands.
func (a *Archive) HasOwner() (yes bool, err error) {
	err = a.db.View(func(tx *bolt.Tx) error {
		yes, err = state{tx}.owners(a.now(), "")
		return err
	})
	return yes, err
}

func withoutSecret(k *pb.Key) *pb.Key {
	k = proto.Clone(k).(*pb.Key)
	k.SecretSha256 = ""
	return k
}
