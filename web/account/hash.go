package account

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Hash is a password as it is kept: argon2id in the customary text form,
// "$argon2id$v=19$m=19456,t=2,p=1$SALT$KEY". The parameters stand in it, so
// that they can be raised without locking anybody out.
type Hash string

// The least that the OWASP Password Storage Cheat Sheet asks of argon2id:
// 19 MiB of memory, two passes, one lane (from memory). Salt and key lengths
// are those RFC 9106 section 4 recommends.
const (
	memoryKiB = 19456
	passes    = 2
	lanes     = 1
	saltBytes = 16
	keyBytes  = 32
)

// What is read back is bounded, so that a damaged ledger cannot ask for all
// the memory there is.
const (
	maxMemoryKiB = 1 << 20
	maxPasses    = 16
)

// NewHash hashes a password under a fresh salt; the error says what is wrong
// with the password. It takes tens of milliseconds and 19 MiB.
func NewHash(password string) (Hash, error) {
	if err := checkPassword(password); err != nil {
		return "", err
	}
	salt := make([]byte, saltBytes)
	rand.Read(salt) // never fails: it ends the process instead
	key := argon2.IDKey([]byte(password), salt, passes, memoryKiB, lanes, keyBytes)
	return Hash(fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memoryKiB, passes, lanes,
		base64.RawStdEncoding.EncodeToString(salt), base64.RawStdEncoding.EncodeToString(key))), nil
}

// Matches reports whether password is the one that was hashed. A hash that
// cannot be read matches nothing.
func (h Hash) Matches(password string) bool {
	if len(password) > maxPassword {
		return false
	}
	var version int
	var m, t uint32
	var p uint8
	parts := strings.Split(string(h), "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" {
		return false
	}
	if _, err := fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &m, &t, &p); err != nil {
		return false
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[4])
	key, err2 := base64.RawStdEncoding.DecodeString(parts[5])
	if err1 != nil || err2 != nil || len(key) < 16 || version != argon2.Version ||
		m > maxMemoryKiB || t == 0 || t > maxPasses || p == 0 {
		return false
	}
	got := argon2.IDKey([]byte(password), salt, t, m, p, uint32(len(key)))
	return subtle.ConstantTimeCompare(got, key) == 1
}

// Decoy takes as long as Matches and matches nothing: without it the time of
// an answer would tell which account names exist.
func Decoy(password string) bool {
	if len(password) > maxPassword {
		return false
	}
	argon2.IDKey([]byte(password), make([]byte, saltBytes), passes, memoryKiB, lanes, keyBytes)
	return false
}
