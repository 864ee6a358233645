package archive

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// sealer keeps the contact details of parties readable only while their key is in the bucket: the journal holds them sealed (AES-256-GCM), so
// that deleting the key erases them without breaking the chain.
type sealer struct {
	bucket storage.Bucket
}

const sealKeySize = 32

const sealPrefix = "sealed/"

func sealKeyName(party string) string { return sealPrefix + strings.TrimPrefix(party, Parties+"/") }

// seal closes a contact under the party's key, made on first need.
func (s sealer) seal(ctx context.Context, party string, c *pb.Contact) ([]byte, error) {
	aead, err := s.open(ctx, party)
	if errors.Is(err, storage.ErrNotExist) {
		key := make([]byte, sealKeySize)
		if _, err := rand.Read(key); err != nil {
			return nil, err
		}
		// Whoever loses a race, or gets no clear answer, uses the key that is there.
		if err := s.bucket.Create(ctx, sealKeyName(party), key); err != nil && !errors.Is(err, storage.ErrExist) && !errors.Is(err, storage.ErrDoubtful) {
			return nil, fmt.Errorf("store the key of %s: %w", party, err)
		}
		aead, err = s.open(ctx, party)
	}
	if err != nil {
		return nil, err
	}
	plain, err := proto.Marshal(c)
	if err != nil {
		return nil, err
	}
	nonce := make([]byte, aead.NonceSize())
	if _, err := rand.Read(nonce); err != nil {
		return nil, err
	}
	return aead.Seal(nonce, nonce, plain, []byte(party)), nil
}

// unseal opens a contact. Without its key it is ErrForgotten.
func (s sealer) unseal(ctx context.Context, party string, sealed []byte) (*pb.Contact, error) {
	aead, err := s.open(ctx, party)
	if errors.Is(err, storage.ErrNotExist) {
		return nil, wrapName(ErrForgotten, party)
	}
	if err != nil {
		return nil, err
	}
	if len(sealed) < aead.NonceSize() {
		return nil, fmt.Errorf("sealed contact of %s is cut short", party)
	}
	plain, err := aead.Open(nil, sealed[:aead.NonceSize()], sealed[aead.NonceSize():], []byte(party))
	if err != nil {
		return nil, fmt.Errorf("open the contact of %s: %w", party, err)
	}
	c := new(pb.Contact)
	return c, proto.Unmarshal(plain, c)
}

func (s sealer) open(ctx context.Context, party string) (cipher.AEAD, error) {
	r, err := s.bucket.Open(ctx, sealKeyName(party), 0, -1)
	if err != nil {
		return nil, err
	}
	defer func() { _ = r.Close() }()
	key, err := io.ReadAll(io.LimitReader(r, sealKeySize+1))
	if err != nil {
		return nil, fmt.Errorf("read the key of %s: %w", party, err)
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, fmt.Errorf("key of %s: %w", party, err)
	}
	return cipher.NewGCM(block)
}

// forget deletes a party's key for good.
func (s sealer) forget(ctx context.Context, party string) error {
	return s.bucket.Delete(ctx, sealKeyName(party))
}
