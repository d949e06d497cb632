package account

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
)

// secretBytes is the length of a session's or token's secret: 256 bits.
const secretBytes = 32

// newSecret is a fresh secret in URL-safe text.
func newSecret() string {
	b := make([]byte, secretBytes)
	rand.Read(b) // never fails: it ends the process instead
	return base64.RawURLEncoding.EncodeToString(b)
}

// digest is the key a secret is kept under. Looking up a digest leaks nothing
// by its timing: who does not know the secret cannot steer its SHA-256.
func digest(secret string) string {
	d := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(d[:])
}
